"""What `palea demo` walks through: the invented journey, written, checked, analysed, written up, shared and rerun."""

import shutil
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from palea import schema
from palea.analyses.keep import keep
from palea.analyses.plan import answer_all
from palea.checks.run import check
from palea.demo.write import write
from palea.errors import PackageError
from palea.record import methods
from palea.share.archive import share
from palea.share.rerun import rerun
from palea.stamp import Stamp

QUICK_SPECIES = ("AV",)
ALL_SPECIES = ("AV", "CC", "AM")
WRITTEN = Stamp("A. Fennel", "2026-09-01T09:00:00+00:00")


@dataclass(frozen=True)
class Tour:
    """What came of the tour: where things lie, and what was found, as sentences."""

    package: Path
    record: Path
    archive: Path
    findings: tuple
    verdicts: tuple[str, ...]
    compared: str
    agrees: bool


def walk(folder, *, quick=False, replace=False, step: Callable = lambda _: None):
    """Take the invented journey through every layer. `step` is called with a sentence before each stage of it.

    Raises PackageError where the folder holds something already, unless `replace` says that it may go.
    """
    folder = _cleared(Path(folder), replace=replace)
    place, record, archive = folder / "journey", folder / "methods.html", folder / "journey.zip"
    step("Writing the invented journey: lots, runs, treatments, trial G1")
    package = write(place, QUICK_SPECIES if quick else ALL_SPECIES)
    step("Checking it")
    findings = check(package)
    step("Running its analyses")
    outcomes = answer_all(package, progress=step)
    step("Keeping results, figures and sentences")
    package = keep(package, outcomes, WRITTEN)
    step("Writing the methods record")
    methods.write(package, record, replace=True)
    step("Sharing it as one archive")
    share(package, archive, replace=True)
    step("Opening the archive as a colleague would, and running everything again")
    again = rerun(archive)
    return Tour(place, record, archive, tuple(findings), tuple(_verdicts(outcomes)), again.told(), again.agrees)


def _cleared(folder, *, replace):
    if folder.exists() and any(folder.iterdir()):
        if not replace:
            msg = f"{folder} holds something already. Name another folder, or say --replace to start afresh."
            raise PackageError(msg)
        if not (folder / "journey" / "datapackage.json").is_file():
            msg = f"{folder} holds something that the demo did not write, so it is left alone. Name another folder."
            raise PackageError(msg)
        shutil.rmtree(folder)
    folder.mkdir(parents=True, exist_ok=True)
    return folder


def _verdicts(outcomes):
    """One line a judged contrast: species, what against what, verdict."""
    for o in outcomes:
        for e in o.result.estimates:
            if e.verdict:
                species, a, b = (e.of.get(part, "") for part in ("taxon", "a", "b"))
                what = schema.word("quantity", e.quantity)["title"].lower()
                margin = f" (within {e.margin:g} points)" if e.margin == e.margin else ""
                yield f"{o.names.get(species, species)}, {what}, {a} against {b}: {e.verdict}{margin}"
