"""Unfinished entries on disk, so that nothing typed is lost with a kernel or a browser.

A draft lies in the folder `drafts` of the package, apart from its tables: it is named in no descriptor, so it is never
shared, checked or analysed. It is written at every edit and dropped when what it held is saved.
"""

import json
import os
from urllib.parse import quote, unquote

from palea.errors import EntryError, PackageError

FOLDER = "drafts"


def read(package, name):
    """What was typed under that name, as it was handed to `write`; {} where there is no such draft.

    Raises EntryError where the file cannot be read; it is then kept under another name, so that the next look is free.
    """
    path = _path(package, name)
    if not path.is_file():
        return {}
    try:
        return json.loads(path.read_text(encoding="utf-8"))["typed"]
    except (OSError, ValueError, KeyError, TypeError):
        aside = path.with_suffix(".unreadable")
        path.replace(aside)
        msg = f"The draft “{name}” cannot be read. It was kept as {aside}; open that file to see what it holds."
        raise EntryError(msg) from None


def write(package, name, typed):
    """Put `typed` (anything that JSON can hold) in place of the draft of that name: the old one or the new, never half.

    Raises PackageError where the package is a zip or cannot be written.
    """
    put(package, _path(package, name), {"name": name, "typed": typed})


def put(package, path, held):
    """Write `held` as JSON into a file beside the tables: the old one or the new, never half. Raises as `write` does."""
    if package.read_only:
        msg = f"{package.source} is a zip, and nothing can be typed into it. Unpack it and open the folder."
        raise PackageError(msg)
    fresh = path.with_suffix(".part")
    try:
        path.parent.mkdir(exist_ok=True)
        with fresh.open("w", encoding="utf-8") as out:
            json.dump(held, out, ensure_ascii=False, indent=0)
            out.flush()
            os.fsync(out.fileno())
        fresh.replace(path)
    except OSError as error:
        msg = f"The draft {path} cannot be written: {error}. What is typed now is only on the screen."
        raise PackageError(msg) from None


def drop(package, name):
    """Take the draft of that name away, where there is one."""
    _path(package, name).unlink(missing_ok=True)


def names(package):
    """Names of all drafts that lie beside the tables of a package, sorted."""
    head, tail = "draft of ", ".json"
    files = (package.folder / FOLDER).glob(f"{head}*{tail}")
    return sorted(unquote(path.name.removeprefix(head).removesuffix(tail)) for path in files)


def _path(package, name):
    # Names hold ids that people chose; quoted, and with a word before, they are one plain file name on every system.
    return package.file(f"{FOLDER}/draft of {quote(name, safe=' ').replace('.', '%2E')}.json")
