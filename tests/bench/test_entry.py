"""The one way in: what is typed is judged in the package as it would be, and wrong rows are never written."""

import re

import pandas as pd
import pytest

import palea
from palea.bench import entry
from palea.errors import EntryError, SchemaError
from palea.stamp import Stamp

VISIT = {"visit_id": "G1-D10", "trial_id": "G1", "visited_at": "2025-03-11", "visited_by": "sorrel",
         "looked_for": "normal; abnormal", "counting": "new"}


def count(unit="G1-AV-T01-1-1", visit="G1-D07", outcome="normal", text="4", **more):
    """One row of counts as typed."""
    row = {"visit_id": visit, "unit_id": unit, "outcome": outcome, "taxon_id": "AV", "observer": "sorrel", "count": text}
    return row | more


def test_a_proposal_is_the_package_as_it_would_be_and_writes_nothing(small):
    proposal = entry.propose(small, "counts", [count(outcome="lost", text="1")])
    assert len(proposal.package["counts"]) == len(small["counts"]) + 1
    assert len(palea.open_package(small.folder)["counts"]) == len(small["counts"])
    assert proposal.new_errors == ()


def test_a_row_that_is_there_already_is_changed_and_keeps_what_was_not_named(small):
    proposal = entry.propose(small, "counts", [count(text="6")])
    new = proposal.package["counts"]
    assert len(new) == len(small["counts"])
    row = new[new["visit_id"].eq("G1-D07") & new["unit_id"].eq("G1-AV-T01-1-1") & new["outcome"].eq("normal")].iloc[0]
    assert (row["count"], row["method"]) == (6, "seen")


@pytest.mark.parametrize(("text", "sentence"), [
    ("x", "“x” is not a number."),
    ("2.5", "“2.5” is not a whole number."),
    ("-1", "Count is -1, and 0 or more is possible."),
    ("4 or 5", "“4 or 5” is not a number."),
])
def test_a_cell_that_cannot_be_read_is_a_new_error_and_names_its_row(small, text, sentence):
    proposal = entry.propose(small, "counts", [count(text=text)])
    assert [f.value for f in proposal.new_errors] == [text]
    assert proposal.new_errors[0].message == f"G1-D07, G1-AV-T01-1-1, normal, AV, sorrel: {sentence}"
    assert proposal.new_errors[0].field == "count"


def test_more_than_sown_is_an_error_that_the_entry_brings(small):
    proposal = entry.propose(small, "counts", [count(text="24")])
    assert [f.rule for f in proposal.new_errors] == ["germination.more-than-sown"]
    assert proposal.new_errors[0].message == "Dish G1-AV-T01-1-1: 26 seeds came up or were taken out, 25 were sown."


def test_errors_that_were_there_before_do_not_stand_in_the_way(small, stamp):
    wrong = small["counts"].copy()
    wrong.loc[0, "count"] = 30
    from palea.tables import saving

    spoilt = saving.save(small.replacing("counts", wrong), stamp, "typing")
    assert any(f.rule == "germination.more-than-sown" for f in palea.check(spoilt))
    proposal = entry.propose(spoilt, "counts", [count(unit="G1-AV-T03-1-1", outcome="lost", text="1")])
    assert proposal.new_errors == ()
    saved = entry.save(proposal, stamp, "entry")
    assert len(saved["counts"]) == len(spoilt["counts"]) + 1


def test_a_visit_and_its_counts_are_kept_together_or_not_at_all(small, stamp):
    visit = entry.propose(small, "visits", [VISIT])
    with pytest.raises(EntryError) as refused:
        entry.save(visit.then("counts", [count(visit="G1-D10", text="24")]), stamp, "entry")
    assert str(refused.value) == (
        "Not saved: Dish G1-AV-T01-1-1: 31 seeds came up or were taken out, 25 were sown. Nothing was written."
    )
    assert "germination.more-than-sown" in [f.rule for f in refused.value.findings]
    on_disk = palea.open_package(small.folder)
    assert "G1-D10" not in set(on_disk["visits"]["visit_id"])
    saved = entry.save(visit.then("counts", [count(visit="G1-D10", text="3")]), stamp, "entry")
    assert "G1-D10" in set(saved["visits"]["visit_id"])
    assert saved["counts"]["visit_id"].eq("G1-D10").sum() == 1


def test_a_visit_before_sowing_is_refused_with_what_to_do(small, stamp):
    visit = entry.propose(small, "visits", [VISIT | {"visited_at": "2025-02-11"}])
    with pytest.raises(EntryError, match="before its seed was wetted on 2025-03-01"):
        entry.save(visit.then("counts", [count(visit="G1-D10")]), stamp, "entry")


def test_a_row_that_names_nobody_is_refused(small, stamp):
    with pytest.raises(EntryError, match="nobody"):
        entry.save(entry.propose(small, "visits", [VISIT | {"visited_by": "nobody"}]), stamp, "entry")


def test_what_must_be_filled_in_is_missed(small, stamp):
    proposal = entry.propose(small, "visits", [VISIT | {"visited_at": " "}])
    assert "visited_at" in [f.field for f in proposal.new_errors]
    with pytest.raises(EntryError):
        entry.save(proposal, stamp, "entry")


def test_blank_is_missing_and_not_zero(small, stamp):
    saved = entry.save(entry.propose(small, "counts", [count(text="", missing="not looked")]), stamp, "re-count")
    row = saved["counts"][saved["counts"]["missing"].notna()].iloc[0]
    assert pd.isna(row["count"])
    assert row["missing"] == "not looked"


def test_the_journal_keeps_who_when_why_and_what_was_typed(small, stamp):
    row = {"unit_id": "G1-AV-T01-1-1", "sown_g": "0,0700"}
    saved = entry.save(entry.propose(small, "units", [row]), Stamp("fennel", stamp.when), "typing", words="sheet 4")
    line = saved.journal()[-1]
    assert saved["units"]["sown_g"].iloc[0] == 0.07
    assert {"who": "fennel", "when": stamp.when, "reason": "typing", "words": "sheet 4", "column": "sown_g"}.items() <= line.items()
    assert line["typed_value"] == "0,0700"


def test_what_was_typed_in_several_rows_stands_in_the_words(small, stamp):
    rows = [{"unit_id": f"G1-AV-T01-1-{n}", "sown_g": f"0,07{n}"} for n in (1, 2)]
    saved = entry.save(entry.propose(small, "units", rows), stamp, "typing")
    assert saved.journal()[-1]["words"] == (
        "As typed: G1-AV-T01-1-1, sown_g: “0,071”; G1-AV-T01-1-2, sown_g: “0,072”."
    )


def test_a_value_that_is_kept_as_it_was_typed_is_not_said_twice(small, stamp):
    """1 is 1.0 and true is true; 0,5 was put as 0.5, which the journal keeps."""
    rows = [{"unit_id": f"G1-AV-T01-1-{n}", "seeds_each": "2", "sown_g": text} for n, text in ((1, "1"), (2, "0,5"))]
    assert set(entry.propose(small, "units", rows).as_typed) == {("units", ("G1-AV-T01-1-2",), "sown_g")}
    visit = {"visit_id": "G1-D03", "blind": "false"}
    assert entry.propose(small, "visits", [visit]).as_typed == {}


def test_nobody_enters_anything_without_a_name(small):
    with pytest.raises(EntryError, match="Say who enters this"):
        entry.save(entry.propose(small, "counts", [count()]), Stamp(" ", "2025-03-12T09:00:00+00:00"), "entry")


def test_an_unknown_reason_or_column_is_named_with_the_nearest(small, stamp):
    with pytest.raises(SchemaError, match="nearest is “re-count”"):
        entry.save(entry.propose(small, "counts", [count()]), stamp, "recount")
    with pytest.raises(SchemaError, match=re.escape("“cuont”. The nearest is “count”.")):
        entry.propose(small, "counts", [{"cuont": "4"}])


def test_an_empty_package_can_be_filled_once(empty, small, stamp):
    filled = entry.fill(empty, small, stamp, "to look at")
    assert filled["counts"].equals(small["counts"])
    assert filled.journal()[-1]["words"] == "to look at"
    with pytest.raises(EntryError, match="already holds rows"):
        entry.fill(filled, small, stamp, "again")
