"""manifest-sha256.txt: the hash of every file, one `<hash>  <path>` a line, as the BagIt standard writes it (RFC
8493, 2.1.3).
"""

import hashlib
import re

from palea.findings import Finding
from palea.tables import paths

NAME = "manifest-sha256.txt"
_LINE = re.compile(r"([0-9a-f]{64})  (.+)")


def files(folder):
    """Every file of a package, relative and sorted, but the hidden ones and the manifest. UnsafePackage for a link."""
    found = []
    for path in sorted(folder.rglob("*")):
        relative = path.relative_to(folder).as_posix()
        if any(part.startswith(".") for part in relative.split("/")) or relative == NAME:
            continue
        if path.is_symlink():
            paths.refuse(relative, "it is a link, which may lead anywhere")
        if path.is_file():
            found.append(relative)
    return sorted(found)


def text(folder):
    """The manifest of the files in `folder` as they are now, as bytes."""
    return "".join(f"{_hash(folder / relative)}  {_escaped(relative)}\n" for relative in files(folder)).encode()


def write(folder):
    """Write the manifest of `folder`; its path."""
    path = folder / NAME
    path.write_bytes(text(folder))
    return path


def own_hash(folder):
    """SHA-256 of the manifest itself; "" where there is none. Two states of a package never share one."""
    path = folder / NAME
    return _hash(path) if path.is_file() and not path.is_symlink() else ""


def verify(folder):
    """Findings about files that were altered, taken away or added since the manifest was written; [] if all is as
    it was.

    A package without a manifest has one Finding of severity "gap".
    """
    path = folder / NAME
    if not path.is_file() or path.is_symlink():
        return [
            _finding(
                "manifest.absent",
                "",
                f"There is no {NAME}, so nothing shows whether files were altered.",
                "A package that `palea share` writes has one.",
                "gap",
            )
        ]
    stated, unreadable = _stated(path)
    there = set(files(folder))
    altered = [p for p in sorted(there & set(stated)) if _hash(folder / p) != stated[p]]
    return [
        *unreadable,
        *(
            _finding(
                "manifest.altered", p, f"The file {p} is not the one that was shared.", "Ask for the package again."
            )
            for p in altered
        ),
        *(
            _finding("manifest.missing", p, f"The file {p} was shared and is not there.", "Ask for the package again.")
            for p in sorted(set(stated) - there)
        ),
        *(
            _finding(
                "manifest.extra",
                p,
                f"The file {p} is not in the manifest.",
                "It was added after sharing; do not rely on it.",
            )
            for p in sorted(there - set(stated))
        ),
    ]


def _stated(path):
    """{path: hash} as the manifest says, and Findings about lines that say nothing."""
    stated, unreadable = {}, []
    for number, line in enumerate(path.read_text(encoding="utf-8", errors="replace").removesuffix("\n").split("\n"), 1):
        found = _LINE.fullmatch(line)
        name = _unescaped(found.group(2)) if found else ""
        if not found or name in stated or paths.fault_of(name):
            unreadable.append(
                _finding(
                    "manifest.line",
                    NAME,
                    f"Line {number} of {NAME} is no line of a manifest.",
                    "Ask for the package again.",
                )
            )
        else:
            stated[name] = found.group(1)
    return stated, unreadable


def _hash(path):
    with path.open("rb") as source:
        return hashlib.file_digest(source, "sha256").hexdigest()


def _escaped(relative):
    """RFC 8493, 2.1.3: line ends and the percent sign are written as in an address."""
    return relative.replace("%", "%25").replace("\n", "%0A").replace("\r", "%0D")


def _unescaped(written):
    return written.replace("%0A", "\n").replace("%0D", "\r").replace("%25", "%")


def _finding(rule, path, message, remedy, severity="error"):
    return Finding(rule, severity, "", None, "", path, message, remedy)
