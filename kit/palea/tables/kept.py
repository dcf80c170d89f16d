"""A copy of each table as palea wrote it last, so that what another program changed can be shown row by row.

The copies lie in a hidden folder of the package. They are a convenience and no truth: nothing is read from them unless
their hash is the one that the descriptor states, so they need no place in the transaction. They do not travel.
"""

import contextlib
import hashlib

from palea.tables import paths

FOLDER = ".palea-kept"
LARGEST = 256 * 1024**2  # bytes; of a larger table only the hash shows a change


def keep(folder, files):
    """Copy {relative path: bytes}. What cannot be copied is left out: the save itself has succeeded."""
    with contextlib.suppress(OSError):
        place = folder / FOLDER
        if place.is_symlink():
            return
        place.mkdir(exist_ok=True)
        if not (place / ".gitignore").exists():
            (place / ".gitignore").write_text("*\n", encoding="utf-8")
        for relative, data in files.items():
            if len(data) <= LARGEST:
                part = place / f"{_name(relative)}.part"
                part.write_bytes(data)
                # The copy before is of no use any more; renaming over it, ext4 would write the new one to the disk at once.
                (place / _name(relative)).unlink(missing_ok=True)
                part.replace(place / _name(relative))


def read(folder, relative, stated):
    """The bytes of the copy whose hash is `stated` ("sha256:..."), or None where there is none."""
    path = folder / FOLDER / _name(relative)
    if paths.fault_of(relative) or (folder / FOLDER).is_symlink() or path.is_symlink() or not path.is_file():
        return None
    with contextlib.suppress(OSError):
        data = path.read_bytes() if path.stat().st_size <= LARGEST else b""
        if f"sha256:{hashlib.sha256(data).hexdigest()}" == stated:
            return data
    return None


def _name(relative):
    """One flat name for a path inside the package; no path holds a backslash, so two never share a name."""
    return relative.replace("%", "%25").replace("/", "%2F")
