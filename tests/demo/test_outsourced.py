"""A contractor's coat of unknown recipe: recorded truthfully, valid, and low in the checklist."""

import palea
from palea.checks import by_treatment, checklist, run
from palea.demo.outsourced import write
from palea.demo.write import write as write_journey
from palea.shipped import folder

SHIPPED = folder("datapackages_demo") / "outsourced"
TRUE = {"planning.one-batch": "one bag came back", "outsourced.nothing-travelled": "no uncoated bag travelled with it"}


def test_the_shipped_package_is_what_is_written(tmp_path):
    written = write(tmp_path / "o").folder
    names = sorted(p.relative_to(SHIPPED) for p in SHIPPED.rglob("*") if p.is_file())
    assert names
    assert [n for n in names if (written / n).read_bytes() != (SHIPPED / n).read_bytes()] == []


def test_it_says_only_what_is_true():
    told = {f.rule: f.severity for f in run.findings_of(palea.open_package(SHIPPED))}
    assert "error" not in told.values()
    assert set(told) == set(TRUE)


def test_frictionless_calls_it_valid():
    import frictionless

    assert frictionless.validate(str(SHIPPED / "datapackage.json")).valid


def test_it_scores_low_and_says_who_withholds():
    answers = checklist.evaluate(palea.open_package(SHIPPED))
    kept_back = [a for a in answers if a.state is checklist.State.WITHHELD]
    assert {a.by for a in kept_back} == {"brackwater"}
    rows = {(r["stage"], r["weight"]): r for r in checklist.tally(answers)}
    essential = rows["outsourced", "essential"]
    assert essential["reported"] < essential["applicable"] / 2
    assert essential["withheld"] + essential["reported"] == essential["applicable"], "nothing is silently missing"


def test_the_bare_seed_beside_it_is_told_better():
    rows = by_treatment.tally(palea.open_package(SHIPPED))
    share = {}
    for treatment in ("CC-T03", "CC-T09"):
        mine = [r for r in rows if r["treatment"] == treatment and r["weight"] == "essential"]
        share[treatment] = sum(r["reported"] for r in mine) / sum(r["applicable"] for r in mine)
    assert share["CC-T09"] < share["CC-T03"]


def test_its_rows_are_those_of_the_journey(tmp_path):
    """A part of the whole: the same dishes with the same counts."""
    part, whole = palea.open_package(SHIPPED), write_journey(tmp_path / "j", ("CC",))
    among = whole["counts"][whole["counts"]["unit_id"].isin(part["units"]["unit_id"])].reset_index(drop=True)
    assert part["counts"].equals(among)
