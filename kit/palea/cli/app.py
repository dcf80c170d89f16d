"""The command line's frame: exit codes, JSON, and turning errors into sentences.

Exit 0: done.  1: done, and the answer is no.  2: could not be done; a sentence on standard error says why.
"""

import functools
import json
import os
import sys

os.environ.setdefault("TYPER_USE_RICH", "0")
os.environ.setdefault(
    "OPENBLAS_NUM_THREADS", "1"
)  # our fits are small: one thread is steady, two can be 100 times slower

import typer

from palea.errors import PaleaError, WithFindings

app = typer.Typer(
    add_completion=False,
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    help="Check, analyse, write up, share and rerun packages of seed data, as in `palea demo`.",
)
_debug = {"on": False}


@app.callback()
def common(
    debug: bool = typer.Option(False, "--debug", help="Show the full trace of an error."),  # noqa: FBT003
) -> None:
    """Check, analyse, write up, share and rerun packages of seed data, as in `palea demo`."""
    _debug["on"] = debug


def answers(command):
    """Wrap a command: whatever goes wrong becomes one or two sentences on standard error and exit 2."""

    @functools.wraps(command)
    def wrapped(*args, **kwargs):
        try:
            return command(*args, **kwargs)
        except typer.Exit:
            raise
        except PaleaError as fault:
            _refuse(fault)
        except (OSError, MemoryError) as fault:
            _refuse(fault)
        except Exception as fault:
            if _debug["on"]:
                raise
            _refuse(
                f"Something in palea itself failed: {fault!r}. Run it again with `palea --debug ...` and report it."
            )

    return wrapped


def _refuse(fault):
    if _debug["on"] and isinstance(fault, Exception):
        raise fault
    typer.echo(_sentence(fault), err=True)
    if isinstance(fault, WithFindings):
        for finding in fault.findings:
            typer.echo(str(finding), err=True)
    raise typer.Exit(2)


def _sentence(fault):
    """What went wrong, in words; what the system says of a file, with what to look at."""
    if not isinstance(fault, OSError) or isinstance(fault, PaleaError) or not fault.filename:
        return str(fault)
    return f"{fault.filename}: {fault.strerror}. Look whether it is there, and whether you may read and write it."


def print_json(document):
    """Exactly one JSON document on standard output."""
    typer.echo(json.dumps(document, ensure_ascii=False, indent=1, default=_plain))


def _plain(value):
    if hasattr(value, "item"):
        return value.item()
    return list(value) if isinstance(value, set | frozenset | tuple) else str(value)


def records(frame):
    """Rows of a frame as plain mappings; blank is null."""
    return [{k: (None if _blank(v) else v) for k, v in row.items()} for row in frame.to_dict("records")]


def _blank(value):
    return value is None or value != value or str(value) == "<NA>"


def note(text):
    """A message beside the answer: on standard error."""
    typer.echo(text, err=True)


def is_terminal():
    """Whether a person watches standard error."""
    return sys.stderr.isatty()
