"""A zip unpacked into a new temporary folder, or refused before the first byte is written."""

import lzma
import shutil
import stat
import struct
import tempfile
import unicodedata
import weakref
import zipfile
import zlib
from pathlib import Path

from palea.errors import PackageError, UnsafePackage
from palea.tables import kept, layout, paths

MOST_FILES = 10_000
MOST_BYTES = 4 * 1024**3
MOST_RATIO = 250  # real tables shrink 5 to 60 times; a bomb some 1000 times
RATIO_FROM = 1024**2  # bytes; below this a high ratio does no harm

RATIO_FROM_ALL = 64 * 1024**2  # the same for the whole zip
BROKEN = (  # whatever the readers of a zip and of its kinds of compression raise
    zipfile.BadZipFile, EOFError, NotImplementedError, zlib.error, lzma.LZMAError, struct.error, OSError, ValueError,
)  # fmt: skip


class Unpacked:
    """A temporary folder that goes away with the last package that reads from it."""

    def __init__(self):
        self.folder = Path(tempfile.mkdtemp(prefix="palea-")).resolve()
        self.close = weakref.finalize(self, shutil.rmtree, self.folder, ignore_errors=True)


def unpack(path):
    """Unpack a zip -> Unpacked; palea's own copies of tables stay in it.

    Raises PackageError if it is no readable zip, UnsafePackage if it is not to be trusted.
    """
    unpacked = None
    try:
        with zipfile.ZipFile(path) as archive:
            entries = [entry for entry in archive.infolist() if kept.FOLDER not in entry.filename.split("/")]
            _check(path, entries)
            layout.check(archive, path, _refuse)
            unpacked = Unpacked()
            for entry in entries:
                if not entry.is_dir():
                    _extract(archive, entry, unpacked.folder)
    except BROKEN as error:
        if unpacked:
            unpacked.close()
        msg = (
            f"{path} cannot be unpacked: {paths.printable(str(error), 120)}. "
            "Ask for the file again, or unpack it yourself."
        )
        raise PackageError(msg) from None
    return unpacked


def _check(path, entries):
    """Refuse by the zip's own list of contents, before anything is written."""
    size = sum(entry.file_size for entry in entries)
    if len(entries) > MOST_FILES:
        _refuse(path, f"holds {len(entries)} files; palea unpacks {MOST_FILES} at most")
    if size > MOST_BYTES:
        _refuse(path, f"would unpack to {size / 1024**3:.1f} GB; palea unpacks {MOST_BYTES / 1024**3:.0f} GB at most")
    if size > max(RATIO_FROM_ALL, MOST_RATIO * path.stat().st_size):
        _refuse(path, f"would unpack to more than {MOST_RATIO} times its size")
    seen, files = set(), set()
    for entry in entries:
        _check_entry(path, entry)
        name = unicodedata.normalize("NFC", entry.filename.removesuffix("/").casefold())  # one name to some systems
        if name in seen and not entry.is_dir():
            _refuse(path, f"holds “{paths.printable(entry.filename)}” twice")
        seen.add(name)
        files |= set() if entry.is_dir() else {name}
    for name in seen:
        if files & {name[:n] for n, sign in enumerate(name) if sign == "/"}:
            _refuse(path, f"holds “{paths.printable(name)}” in a folder that is also a file")


def _check_entry(path, entry):
    name = paths.printable(entry.filename)
    fault = paths.fault_of(entry.filename.removesuffix("/") if entry.is_dir() else entry.orig_filename)
    if fault:
        _refuse(path, f"names the path “{name}”, and {fault}")
    kind = stat.S_IFMT(entry.external_attr >> 16)
    if kind not in (0, stat.S_IFREG, stat.S_IFDIR):
        _refuse(path, f"holds “{name}”, which is a link or a device and not a file")
    if entry.flag_bits & 0x1:
        _refuse(path, f"holds “{name}” under a password")
    if entry.file_size > max(RATIO_FROM, MOST_RATIO * entry.compress_size):
        _refuse(path, f"holds “{name}”, which unpacks to more than {MOST_RATIO} times its size")


def _refuse(path, fault):
    msg = f"{path} {fault}. Nothing was unpacked; ask whoever sent it for a zip that `palea share` wrote."
    raise UnsafePackage(msg)


def _extract(archive, entry, folder):
    """Write one entry; never more than it announced."""
    target = paths.inside(folder, entry.filename)
    target.parent.mkdir(parents=True, exist_ok=True)
    left = entry.file_size
    with archive.open(entry) as source, target.open("xb") as sink:
        while block := source.read(min(1024**2, left + 1)):
            left -= len(block)
            if left < 0:
                msg = f"“{paths.printable(entry.filename)}” is longer than the zip says"
                raise zipfile.BadZipFile(msg)
            sink.write(block)
