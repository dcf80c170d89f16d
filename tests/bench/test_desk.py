"""The notebooks beside a package: pointing at it, and never written over."""

import json

import pytest

import palea
from palea.bench.desk import lay_out
from palea.errors import PackageError
from palea.shipped import folder


def sources(path):
    return ["".join(cell["source"]) for cell in json.loads(path.read_text(encoding="utf-8"))["cells"]]


def test_each_notebook_points_at_the_package(journey_copy):
    place = lay_out(palea.open_package(journey_copy))
    assert place == journey_copy.with_name("journey-notebooks")
    shipped = sorted(p.name for p in folder("notebooks").glob("*.ipynb"))
    assert sorted(p.name for p in place.iterdir()) == shipped
    for name in shipped:
        assert 'folder = "../journey"' in sources(place / name)
        assert 'folder = "../journey"' not in sources(folder("notebooks") / name)


def test_a_notebook_that_lies_there_is_somebodys_own(journey_copy):
    place = lay_out(palea.open_package(journey_copy))
    own = next(place.iterdir())
    own.write_text("mine", encoding="utf-8")
    lay_out(palea.open_package(journey_copy))
    assert own.read_text(encoding="utf-8") == "mine"


def test_a_zip_cannot_be_worked_in(journey_copy, tmp_path):
    archive = palea.share(palea.open_package(journey_copy), tmp_path / "shared.zip")
    with pytest.raises(PackageError, match="Unpack it into a folder"):
        lay_out(palea.open_package(archive))
