"""A new package: every table with its header and no row yet."""

from types import MappingProxyType

from palea import schema
from palea.errors import PackageError
from palea.tables import contents, descriptor, transaction
from palea.tables.opening import open_package
from palea.tables.package import Package
from palea.tables.sheet import blank


def begin(folder, described):
    """Write an empty package with this descriptor into a folder that is empty or not there yet -> Package."""
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        msg = f"{folder} is there already and is not empty. Name a new folder, or open the package that lies in it."
        raise PackageError(msg)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        msg = f"{folder} cannot be made: {error}. Name a place where you may write."
        raise PackageError(msg) from None
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
