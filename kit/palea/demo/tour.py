"""What `palea demo` walks through: the invented journey, written, checked, analysed, written up, shared and rerun."""

import re
import shutil
from collections.abc import Callable
from dataclasses import dataclass
from math import isnan
from pathlib import Path

from palea import schema
from palea.analyses.keep import keep
from palea.analyses.plan import answer_all
from palea.calc.results import Refusal, Values
from palea.checks.run import check
from palea.demo.write import write
from palea.errors import PackageError
from palea.record import methods
from palea.sharing.archive import share
from palea.sharing.rerun import rerun
from palea.stamp import Stamp

QUICK_SPECIES, QUICK_TRIAL = ("AV",), "G1"
ALL_SPECIES = ("AV", "CC", "AM")
STAGES = 7  # sentences that it says besides those of the answers
WRITTEN = Stamp("A. Fennel", "2026-09-01T09:00:00+00:00")


@dataclass(frozen=True)
class Tour:
    """What came of the tour: where things lie, and what was found, as sentences."""

    package: Path
    record: Path
    archive: Path
    findings: tuple
    verdicts: dict[str, list[str]]
    compared: str
    agrees: bool


def walk(folder, *, quick=False, replace=False, step: Callable = lambda *_: None):
    """Take the invented journey through every layer. `step` is called with a sentence before each stage of it, and
    before each answer also with its number and how many there are.

    Raises PackageError where the folder holds something already, unless `replace` says that it may go.
    """
    folder = _cleared(Path(folder), replace=replace)
    place, record, archive = folder / "journey", folder / "methods.html", folder / "journey.zip"
    step("Writing the whole invented journey")
    package = write(place, QUICK_SPECIES if quick else ALL_SPECIES)
    step("Checking it")
    findings = check(package)
    step("Running its analyses")
    outcomes = answer_all(package, trial=QUICK_TRIAL if quick else None, progress=step)
    step("Keeping results, figures, sentences")
    package = keep(package, outcomes, WRITTEN, figures=_worth_a_picture)
    step("Writing the methods record")
    methods.write(package, record, replace=True, findings=findings)
    step("Sharing it as one archive")
    share(package, archive, replace=True)
    step("Opening it as a colleague; rerunning all")
    again = rerun(archive)
    return Tour(place, record, archive, tuple(findings), _verdicts(outcomes), again.told(), again.agrees)


def _worth_a_picture(outcome):
    """Comparisons, curves and plans: the tour draws these and leaves tables of single numbers undrawn, to be quick."""
    return not isinstance(outcome.result, Values | Refusal)


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
    """{species: a line a judged contrast: what, a against b, how far apart, and the verdict}."""
    told = {}
    for o in outcomes:
        for e in o.result.estimates:
            if e.verdict:
                told.setdefault(o.names.get(e.of.get("taxon", ""), ""), []).append(_verdict(e, o.names))
    return told


def _verdict(e, names):
    a, b = (names.get(e.of.get(part, ""), e.of.get(part, "")) for part in ("a", "b"))
    what = schema.word("quantity", e.quantity)["title"]
    if isnan(e.value):
        return f"{what}, {a} against {b}: {e.verdict} ({e.reason})"
    apart = f"{e.value:.2f} times ({e.lower:.2f} to {e.upper:.2f})" if e.scale == "ratio" else (
        f"{e.value:+.0f} points ({e.lower:+.0f} to {e.upper:+.0f})")
    verdict = str(e.verdict)
    if not isnan(e.margin):
        verdict = re.sub(r"\bm\b", f"{e.margin:g} points", verdict)
    return f"{what}, {a} against {b}: {apart}: {verdict}"
