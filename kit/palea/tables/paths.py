"""Paths that a package may name: inside its folder, plain on every system, and never a link."""

import os
import re
import stat
from functools import lru_cache

from palea.errors import PackageError, UnsafePackage

LONGEST_PATH = 400  # characters; longer ones fail on some systems
_DEVICES = {"con", "prn", "aux", "nul", *(f"{port}{n}" for port in ("com", "lpt") for n in range(1, 10))}
_DRIVE_OR_SCHEME = re.compile(r"[A-Za-z][A-Za-z0-9+.-]*:")


def inside(folder, relative, safe=None):
    """The path of `relative` (text with forward slashes) inside `folder`, which need not exist yet.

    Raises UnsafePackage for a path that leaves the folder, is hidden, is a link or goes through one, points to the
    network, or that some system would read as something else (drive letters, device names, backslashes).
    safe : a set of paths that were looked at a moment ago, which takes further ones.
    """
    fault = fault_of(relative)
    if fault:
        refuse(relative, fault)
    path, seen = os.fspath(folder), set() if safe is None else safe
    for part in relative.split("/"):
        path = os.path.join(path, part)  # noqa: PTH118 a package names hundreds of paths; a Path of each part is slow
        if path not in seen and _is_link(path):
            refuse(relative, "it goes through a link, which may lead anywhere")
        seen.add(path)
    return folder / relative


def _is_link(path):
    try:
        return stat.S_ISLNK(os.lstat(path).st_mode)
    except (FileNotFoundError, NotADirectoryError):
        return False
    except OSError as error:
        raise _unreadable(path, error) from None


def read(path):
    """The bytes of a file; PackageError where the system does not hand them out."""
    try:
        return path.read_bytes()
    except OSError as error:
        raise _unreadable(path, error) from None


def _unreadable(path, error):
    says = f"{path} cannot be read: {error.strerror or error}."
    return PackageError(f"{says} Look at its permissions, or at whether another program holds it.")


def fault_of(relative):
    """What is wrong with a path as text, as half a sentence; "" if nothing is."""
    if not isinstance(relative, str) or not relative:
        return "it is no text"
    return _fault_of_text(relative)


@lru_cache(maxsize=1024)
def _fault_of_text(relative):
    checks = (
        (_unprintable(relative), "it holds a character that cannot be printed"),
        (len(relative) > LONGEST_PATH, f"it is longer than {LONGEST_PATH} characters"),
        ("\\" in relative, "it holds a backslash"),
        (bool(_DRIVE_OR_SCHEME.match(relative)), "it points to the network or to a drive"),
        (relative.startswith("/"), "it does not start in the package"),
    )
    return next((says for wrong, says in checks if wrong), "") or _fault_of_parts(relative.split("/"))


def refuse(relative, fault):
    """Raise UnsafePackage for this path."""
    shown = relative if isinstance(relative, str) else repr(relative)
    msg = (
        f"The package names the path “{printable(shown)}”, and {fault}. "
        "It was not followed; name files inside the package only, as in data/lots.csv."
    )
    raise UnsafePackage(msg)


def printable(text, longest=80):
    """Text cut short, with nothing in it that could move a cursor."""
    short = text if len(text) <= longest else text[: longest - 3] + "..."
    return "".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in short)


def _unprintable(relative):
    return not relative.isprintable()


def _fault_of_parts(parts):
    for part in parts:
        if part == "..":
            return "it climbs out of the package"
        if part in ("", "."):
            return "it has an empty part"
        if part.startswith((".", "~")):
            return f"“{part}” is hidden"
        if part.endswith((".", " ")) or part.startswith(" "):
            return f"“{part}” begins or ends in a way that some systems drop"
        if part.split(".")[0].casefold() in _DEVICES:
            return f"“{part}” is the name of a device on some systems"
    return ""
