"""Calls in this process, and small packages that can be judged: bare seed against tumbled, one lot, one dish trial."""

import json
from pathlib import Path
from types import SimpleNamespace

import pytest
from typer.testing import CliRunner

from palea.cli.__main__ import app
from palea.stamp import Stamp
from palea.tables import saving
from palea.tables.beginning import new_package
from palea.tables.opening import open_package

WHEN = "2025-03-12T09:00:00+00:00"
SMALL = Path(__file__).parents[1] / "bench" / "small.json"
JUDGED = {
    "treatments": [
        {"treatment_id": "AV-T01", "label": "bare", "role": "untouched", "coat_class": "none"},
        {"treatment_id": "AV-T03", "label": "tumbled", "role": "handled sham", "coat_class": "none"},
    ],
    "trial_outcomes": [{"trial_id": "G1", "outcome": "normal seedlings", "criterion": "root and shoot there and sound",
                        "primary": True, "at_day": 7, "denominator": "sown units"}],
    "contrasts": [{"contrast_id": "C1", "trial_id": "G1", "a": "AV-T03", "b": "AV-T01", "asks_about": "handling",
                   "outcome": "normal seedlings", "kind": "superiority", "wanted": "higher", "primary": True,
                   "declared_at": "2025-02-20"}],
}  # fmt: skip


@pytest.fixture(scope="session")
def call():
    """One call of the command line: exit code, standard output, standard error; never a traceback."""

    def made(*arguments):
        done = CliRunner().invoke(app, [str(a) for a in arguments])
        assert "Traceback" not in done.stderr
        assert "Something in palea itself failed" not in done.stderr, done.stderr
        return SimpleNamespace(returncode=done.exit_code, stdout=done.stdout, stderr=done.stderr)

    return made


def files(folder):
    """{path: bytes} of all that lies in a folder."""
    return {p: p.read_bytes() for p in Path(folder).rglob("*") if p.is_file()}


@pytest.fixture(scope="session")
def unchanged():
    """A comparison: unchanged(folder) before a call gives a function that says whether anything in it is another."""

    def remember(folder):
        before = files(folder)
        return lambda: files(folder) == before

    return remember


@pytest.fixture(scope="session")
def judged(tmp_path_factory):
    """Make a package of the small trial that can be judged: judged(name, more normal seedlings a dish of AV-T03)."""

    def made(name, more=0):
        folder = tmp_path_factory.mktemp("judged") / name
        new_package(folder, f"{name} (invented)", Stamp("sorrel", WHEN), invented=True)
        rows = json.loads(SMALL.read_text(encoding="utf-8")) | JUDGED
        rows["lots"] = [rows["lots"][0] | {"seed_unit": "seed"}]
        rows["units"] = [unit | {"lot_id": "AV-T01-1"} for unit in rows["units"]]
        for count in rows["counts"]:
            if (count["visit_id"], count["outcome"]) == ("G1-D07", "normal") and "-T03-" in count["unit_id"]:
                count["count"] += more
        package = open_package(folder)
        for table, own in rows.items():
            package = package.having(table, own)
        saving.save(package, Stamp("sorrel", WHEN), "entry")
        return folder

    return made
