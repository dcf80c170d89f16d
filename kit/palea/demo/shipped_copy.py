"""The shipped demo package, copied to where it may be changed."""

import shutil
from pathlib import Path

from palea.errors import PackageError
from palea.shipped import folder
from palea.tables.opening import open_package


def copy_of_demo(place):
    """The invented journey in the folder `place`, copied there unless a package lies there already; opened as a Package.

    Raises PackageError where the folder holds something else.
    """
    place = Path(place).expanduser()
    if not (place / "datapackage.json").is_file():
        if place.exists() and any(place.iterdir()):
            msg = f"{place} holds something that is no package, so nothing was copied there. Name another folder."
            raise PackageError(msg)
        shutil.copytree(folder("datapackages_demo") / "journey", place, dirs_exist_ok=True)
    return open_package(place)
