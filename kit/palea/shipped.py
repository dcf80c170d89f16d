"""Where schema, notebooks and demo packages lie: inside the installed wheel, or beside kit in a checkout."""

from pathlib import Path

HERE = Path(__file__).resolve().parent
_WHEEL = HERE / "shipped_files"


def folder(name):
    """The shipped folder "schema", "notebooks" or "datapackages_demo"."""
    inside = _WHEEL / name
    return inside if inside.is_dir() else HERE.parent.parent / name
