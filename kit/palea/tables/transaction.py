"""Several files written together: after a cut at any instant, either all are old or all are new.

1. Every new file is written into a hidden folder of the package and flushed to the disk.
2. A commit record that lists them is flushed and renamed into place. This rename is the one instant of change.
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
    if not (folder / STAGING).is_symlink() and not (folder / STAGING).exists():
        return
    with locked(folder):
        settle(folder)


def settle(folder):
    """As `recover`, for who holds the lock."""
    staging = folder / STAGING
    if staging.is_symlink():
        msg = f"{staging} is a link; palea makes a folder there while it saves. Nothing was read; delete the link."
        raise UnsafePackage(msg)
    if (staging / RECORD).is_file():
        _finish(folder, _record(staging))
    elif staging.is_dir():
        _sweep(folder)


def commit(folder, files, removed=()):
    """Write {relative path: bytes} and take away the paths in `removed`, all or nothing. The caller holds the lock."""
    entries = [
        {"path": path, "new": str(n), "sha256": hashlib.sha256(data).hexdigest()}
        for n, (path, data) in enumerate(files.items())
    ]
    for path in (*files, *removed):
        paths.inside(folder, path)
    try:
        staging = _stage(folder, files.values())
        record = json.dumps({"files": entries, "removed": list(removed)}).encode()
        _write(staging / f"{RECORD}.part", record)
        (staging / f"{RECORD}.part").replace(staging / RECORD)
    except OSError as error:
        _sweep(folder)
        raise _unwritable(folder, error) from None
    reached("committed")
    _flush(staging)
    _flush(folder)  # the record, and the folder that it lies in, must last before anything is renamed
    _finish(folder, {"files": entries, "removed": list(removed)})


def _stage(folder, contents):
    staging = folder / STAGING
    staging.mkdir()
    reached("staging made")
    for n, data in enumerate(contents):
        _write(staging / str(n), data)
    _flush(staging)  # a file without its name would be taken for one that was placed already
    return staging


def _write(path, data):
    with path.open("wb") as sink:
        sink.write(data[: len(data) // 2])
        sink.flush()
        reached("half written")
        sink.write(data[len(data) // 2 :])
        sink.flush()
        reached("written")
        os.fsync(sink.fileno())
    reached("flushed")


def _finish(folder, record):
    """Bring every file of a commit record to its place. Doing it twice does no harm."""
    try:
        for entry in record["files"]:
            _place(folder, entry)
        for path in record["removed"]:
            paths.inside(folder, path).unlink(missing_ok=True)
            reached("removed")
        for parent in {
            paths.inside(folder, path).parent for path in (*(e["path"] for e in record["files"]), *record["removed"])
        }:
            _flush(parent)
        (folder / STAGING / RECORD).unlink()
        reached("record gone")
        _sweep(folder)
    except OSError as error:
        msg = (
            f"A save to {folder} was cut off and could not be finished: {error}. Nothing is lost; "
            "make the folder writable and open it again."
        )
        raise PackageError(msg) from None


def _place(folder, entry):
    new, target = folder / STAGING / entry["new"], paths.inside(folder, entry["path"])
    if not new.exists():
        return  # renamed before the cut
    if hashlib.sha256(new.read_bytes()).hexdigest() != entry["sha256"]:
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


def _sweep(folder):
    shutil.rmtree(folder / STAGING, ignore_errors=True)
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
