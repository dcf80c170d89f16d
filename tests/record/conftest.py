"""The invented demo in one species, with one answer kept, as the record reads it."""

import pytest

import palea
from palea.analyses import keep
from palea.demo.write import write
from palea.stamp import Stamp


@pytest.fixture(scope="session")
def stamp():
    return Stamp("C. Sorrel", "2024-03-12T10:00:00+00:00")


@pytest.fixture(scope="session")
def package(tmp_path_factory, stamp):
    """CC: hull, brush, coats, a contractor's pellet of withheld recipe, a place that must not be printed."""
    made = write(tmp_path_factory.mktemp("record") / "journey", species=("CC",))
    return keep.keep(made, [palea.run("germination.final", made, trial="G1")], stamp)


@pytest.fixture(scope="session")
def soaked(tmp_path_factory):
    """AM: an active by coat and by soaking, acid and flame on the bench; no answer kept."""
    return write(tmp_path_factory.mktemp("record") / "soaked", species=("AM",))


@pytest.fixture
def quick(monkeypatch):
    """The record without the parts of it that only call the checks, which have tests of their own."""
    from palea.record import missing

    monkeypatch.setattr(missing, "part", lambda _story: None)
