"""Several files written together: after a cut at any instant, either all are old or all are new.

1. Every new file, and a commit record that lists them, is written into a hidden folder of the package and flushed to
   the disk; so are their names.
2. The folder is renamed to the name under which an opening looks for it. This rename is the one instant of change.
3. The files are renamed to where they belong; then the record goes.
A cut before 2 leaves the old files, and leftovers that the next opening sweeps away. A cut after 2 leaves a record, and
the next opening finishes what it says.
"""

import contextlib
import hashlib
import json
import os
import shutil

import filelock

from palea.errors import PackageError, UnsafePackage
from palea.tables import paths

STAGING = ".palea-save"
GATHERING = f"{STAGING}.part"  # the same folder as long as it is not whole
LOCK = ".palea-lock"
RECORD = "commit.json"
PATIENCE = 20  # seconds to wait for another program that is saving


def reached(step):
    """Nothing. Tests put a power cut here, to see that every step can be the last one."""


@contextlib.contextmanager
def locked(folder):
    """Hold the package for writing. The lock file is taken away while the lock is held: a waiter then finds it
    gone and makes its own.
    """
    lock = filelock.FileLock(folder / LOCK, timeout=PATIENCE)
    try:
        lock.acquire()
    except filelock.Timeout:
        msg = (
            f"Another program has been saving to {folder} for {PATIENCE} seconds. Nothing was written; "
            "close it, or try again."
        )
        raise PackageError(msg) from None
    except OSError as error:
        raise _unwritable(folder, error) from None
    try:
        yield
    finally:
        with contextlib.suppress(OSError):  # on Windows an open file stays
            (folder / LOCK).unlink()
        lock.release()


def recover(folder):
    """Finish a save that was cut off after its commit record, sweep up one that was cut off before. Usually:
    nothing to do.
    """
    if any(os.path.lexists(folder / name) for name in (STAGING, GATHERING)):
        with locked(folder):
            settle(folder)


def settle(folder):
    """As `recover`, for who holds the lock."""
    staging, gathering = folder / STAGING, folder / GATHERING
    for place in (staging, gathering):
        if place.is_symlink():
            msg = f"{place} is a link; palea makes a folder there while it saves. Nothing was read; delete the link."
            raise UnsafePackage(msg)
    if (staging / RECORD).is_file():
        _finish(folder, _record(staging))
    for place in (staging, gathering):
        if place.is_dir():
            _sweep(place)


def commit(folder, files, removed=(), hashes=None):
    """Write {relative path: bytes} and take away the paths in `removed`, all or nothing. The caller holds the lock.

    hashes : {relative path: sha256 of its bytes, as hex}, of those that are known already.
    """
    known = hashes or {}
    entries = [
        {"path": path, "new": str(n), "sha256": known.get(path) or hashlib.sha256(data).hexdigest()}
        for n, (path, data) in enumerate(files.items())
    ]
    for path in (*files, *removed):
        paths.inside(folder, path)
    record = {"files": entries, "removed": list(removed)}
    try:
        gathering = _gathered(folder, files.values(), json.dumps(record).encode())
        gathering.replace(folder / STAGING)
    except OSError as error:
        _sweep(folder / GATHERING)
        raise _unwritable(folder, error) from None
    reached("committed")
    _flush(folder)  # the record must last before anything is renamed
    _finish(folder, record, ours=True)


def _gathered(folder, contents, record):
    gathering = folder / GATHERING
    gathering.mkdir()
    reached("staging made")
    for n, data in enumerate(contents):
        _write(gathering / str(n), data)
    _write(gathering / RECORD, record)
    _flush(gathering)  # a file without its name would be taken for one that was placed already
    return gathering


def _write(path, data):
    half, rest = memoryview(data)[: len(data) // 2], memoryview(data)[len(data) // 2 :]
    with path.open("wb") as sink:
        sink.write(half)
        sink.flush()
        reached("half written")
        sink.write(rest)
        sink.flush()
        reached("written")
        os.fsync(sink.fileno())
    reached("flushed")


def _finish(folder, record, *, ours=False):
    """Bring every file of a commit record to its place. Doing it twice does no harm.

    ours : the files were written by this very call; what an earlier one left is read again and compared with the record.
    """
    try:
        for entry in record["files"]:
            _place(folder, entry, ours=ours)
        for path in record["removed"]:
            paths.inside(folder, path).unlink(missing_ok=True)
            reached("removed")
        for parent in {
            paths.inside(folder, path).parent for path in (*(e["path"] for e in record["files"]), *record["removed"])
        }:
            _flush(parent)
        (folder / STAGING / RECORD).unlink()
        reached("record gone")
        _sweep(folder / STAGING)
    except OSError as error:
        msg = (
            f"A save to {folder} was cut off and could not be finished: {error}. Nothing is lost; "
            "make the folder writable and open it again."
        )
        raise PackageError(msg) from None


def _place(folder, entry, *, ours):
    new, target = folder / STAGING / entry["new"], paths.inside(folder, entry["path"])
    if not ours and not new.exists():
        return  # renamed before the cut
    if not ours and hashlib.sha256(new.read_bytes()).hexdigest() != entry["sha256"]:
        msg = (
            f"The half-saved file {new} was changed by something else. Nothing was written; "
            f"take {STAGING} out of {folder} to keep the old state."
        )
        raise PackageError(msg)
    target.parent.mkdir(parents=True, exist_ok=True)
    new.replace(target)
    reached("placed")


def _record(staging):
    try:
        record = json.loads((staging / RECORD).read_bytes())
        _ = [int(entry["new"]) for entry in record["files"]], list(record["removed"])  # staged files have numbers
    except (ValueError, KeyError, TypeError, AttributeError):
        msg = (
            f"{staging / RECORD} is no record that palea wrote. Nothing was changed; "
            f"take {STAGING} out of the package to keep its old state."
        )
        raise PackageError(msg) from None
    return record


def _sweep(place):
    shutil.rmtree(place, ignore_errors=True)
    reached("swept")


def _flush(folder):
    """Make the names in a folder last; Windows has no such call and needs none."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _unwritable(folder, error):
    return PackageError(
        f"{folder} cannot be written: {error}. Nothing was changed; look at its permissions and at the space left."
    )
