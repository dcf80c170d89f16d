"""Lay the shipped notebooks beside a package, each pointing at it, so that they can be worked in and kept."""

import json
import os
from pathlib import Path

from palea.errors import PackageError
from palea.shipped import folder

PARAMETERS = "parameters"  # the tag of the cell that says where the package lies


def lay_out(package):
    """Copies of the notebooks in a folder beside the package (its name and "-notebooks") -> that folder.

    A notebook that lies there already is somebody's own and stays as it is.
    Raises PackageError for a zip, which cannot be worked in, and for a folder that cannot be written.
    """
    if package.read_only:
        msg = f"{package.source} is a zip and stays as it was shared. Unpack it into a folder and open that."
        raise PackageError(msg)
    place = package.folder.with_name(f"{package.folder.name}-notebooks")
    try:
        place.mkdir(exist_ok=True)
        for shipped in sorted((folder("notebooks")).glob("*.ipynb")):
            own = place / shipped.name
            if not own.exists():
                own.write_text(_pointing(shipped, package.folder, place), encoding="utf-8", newline="\n")
    except OSError as fault:
        msg = f"{place} cannot be written: {fault.strerror or fault}. Copy the package to where you may write."
        raise PackageError(msg) from None
    return place


def _pointing(notebook, package_folder, place):
    """The notebook as text, with the package's folder, as seen from `place`, in its parameters cell."""
    told = json.loads(Path(notebook).read_text(encoding="utf-8"))
    where = Path(os.path.relpath(package_folder, place)).as_posix()
    for cell in told["cells"]:
        if PARAMETERS in cell["metadata"].get("tags", ()):
            cell["source"] = [f"folder = {json.dumps(where)}"]
    return json.dumps(told, indent=1, ensure_ascii=False) + "\n"
