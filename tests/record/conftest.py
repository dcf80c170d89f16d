"""The invented demo in one species, with one answer kept, as the record reads it."""

import pytest

import palea
from palea.analyses import keep
from palea.checks import checklist
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


EVALUATED = {}  # the checklist of a package by its species: what is asked does not hang on what is answered


def evaluated_once(package, evaluate=checklist.evaluate):
    species = tuple(package["taxa"]["taxon_id"])
    if species not in EVALUATED:
        EVALUATED[species] = evaluate(package)
    return EVALUATED[species]


@pytest.fixture
def quick(monkeypatch):
    """The record without the parts of it that only call checks and checklist, which have tests of their own."""
    monkeypatch.setattr(checklist, "evaluate", evaluated_once)
    from palea.record import estimates, missing, opening, pictures, results

    monkeypatch.setattr(estimates, "part", lambda _story: None)
    monkeypatch.setattr(pictures, "part", lambda _story: None)
    monkeypatch.setattr(missing, "part", lambda *_: None)
    monkeypatch.setattr(missing, "table", lambda _story: None)
    monkeypatch.setattr(opening, "_limits", lambda *_: ())
    monkeypatch.setattr(results, "_stale", lambda _story: ())


@pytest.fixture(scope="session")
def plain_gaps(package):
    """Gaps of the record of the package as it is, counted once for all tests that take a value away."""
    from palea.documents.page import gaps
    from palea.record import methods

    return gaps(methods.assemble(package, figures=False))
