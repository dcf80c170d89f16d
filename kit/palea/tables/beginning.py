"""A new package: every table with its header and no row yet."""

from pathlib import Path
from types import MappingProxyType

from palea import schema
from palea.errors import PackageError
from palea.tables import contents, descriptor, transaction
from palea.tables.opening import open_package
from palea.tables.package import Package
from palea.tables.sheet import blank


def new_package(folder, title, stamp, *, licence=None, description="", keywords=(), invented=False):
    """Write an empty, valid package with the header of every table into `folder` -> Package.

    title : str.  stamp : Stamp, for the date.  licence : a SPDX name such as "CC-BY-4.0", or None for not yet chosen.
    Raises PackageError where the folder holds anything already, or cannot be written.
    """
    folder = Path(folder).expanduser()
    described = descriptor.new(
        title, stamp, licence=licence, description=description, keywords=keywords, invented=invented
    )
    new_folder(folder, "Name a new folder, or open the package that lies in it.")
    sheets = {name: blank(table) for name, table in schema.tables().items() if name != "journal"}
    package = Package(folder.resolve(), folder, described, edited=MappingProxyType(sheets))
    files, resources = contents.table_files(package, list(sheets))
    resources["journal"] = descriptor.journal_resource(b"")
    files |= {
        descriptor.JOURNAL: b"",
        descriptor.NAME: descriptor.text(descriptor.with_resources(described, resources)),
    }
    with transaction.locked(package.folder):
        transaction.commit(package.folder, files)
    return open_package(folder)


def new_folder(folder, instead):
    """Make a folder that may be there already if it is empty. instead : what to do where it is not, as a sentence.

    Raises PackageError where it is taken or cannot be made.
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        msg = f"{folder} is there already and is not empty. {instead}"
        raise PackageError(msg)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        msg = f"{folder} cannot be made: {error}. Name a place where you may write."
        raise PackageError(msg) from None
