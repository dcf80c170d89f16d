"""The way in: a folder, its datapackage.json or a zip -> Package. Nothing in it is trusted."""

from pathlib import Path

from palea.errors import PackageError
from palea.tables import descriptor, transaction
from palea.tables.package import Package
from palea.tables.unpacking import unpack


def open_package(path):
    """Open a package; its tables are read when they are asked for.

    path : a folder, the datapackage.json in it, or a .zip (unpacked into a temporary folder, read only).
    Raises PackageError if there is none or it cannot be read, UnsafePackage if something in it must not be followed.
    A save that was cut off is finished or undone first.
    """
    source = Path(path).expanduser()
    if "\0" in str(source) or not _is_there(source):
        msg = f"There is nothing at {source}. Give a folder with {descriptor.NAME} in it, that file, or a zip."
        raise PackageError(msg)
    if source.is_file() and source.name == descriptor.NAME:
        return _from_folder(source.parent, source)
    return _from_folder(source, source) if source.is_dir() else _from_zip(source)


def _is_there(source):
    try:
        if source.is_dir():
            next(source.iterdir(), None)  # raises where its names may not be read
            (source / descriptor.NAME).exists()  # raises where its files may not be reached
        return source.exists()
    except OSError as error:
        msg = f"{source} cannot be opened: {error.strerror}. Look at its permissions."
        raise PackageError(msg) from None


def _from_folder(folder, source):
    folder = folder.resolve()
    transaction.recover(folder)
    return Package(folder, source, descriptor.read(folder))


def _from_zip(source):
    if source.suffix.lower() != ".zip":
        msg = (
            f"{source} is neither a folder, nor a {descriptor.NAME}, nor a zip. "
            "A sheet of your own goes in with `palea take-in`."
        )
        raise PackageError(msg)
    if not source.is_file():
        msg = f"{source} is no file that can be read through, but a pipe or a device. Ask for the zip as a file."
        raise PackageError(msg)
    unpacked = unpack(source)
    try:
        folder = _root(source, unpacked.folder)
        return Package(folder, source, descriptor.read(folder), read_only=True, keeper=unpacked)
    except PackageError:
        unpacked.close()
        raise


def _root(source, folder):
    """The folder that holds the descriptor: the zip's own, or the only one in it."""
    if (folder / descriptor.NAME).is_file():
        return folder
    found = sorted(folder.glob(f"*/{descriptor.NAME}"))
    if len(found) == 1:
        return found[0].parent
    many = "more than one package" if found else f"no {descriptor.NAME}"
    msg = f"{source} holds {many}. Ask for a zip that `palea share` wrote, or unpack it and open the right folder."
    raise PackageError(msg)
