"""Jobs of the stages: forms from the schema, proposals, what is said while typing, drafts, saving, answers beside."""

import pytest

import palea
from palea import panels, schema
from palea.errors import EntryError
from palea.panels.jobs import JobPanel

STAGES = ("lots", "planning", "preparing", "outsourced", "handling", "prices")
every = pytest.mark.parametrize("stage", STAGES)


def listed(panel, name):
    """Row of a form as the browser is told of it."""
    return next(row for row in panel.form.rows if row["name"] == name)


@every
def test_every_job_opens_on_the_journey_on_its_last_row_and_on_an_empty_package(stage, journey, empty, choose):
    for package in (journey, empty):
        panel = getattr(panels, stage)(package)
        for job in panel.jobs:
            choose(panel.job_box, job)
            assert "Error" not in panel.status.value, (stage, job)
            if len(panel.row_box.options) > 1:
                saved = panel.row_box.options[1][1]
                choose(panel.row_box, saved)
                assert "Error" not in panel.status.value, (stage, job)
                key = panel.job.key
                assert not key or key not in panel.job.ask or panel.form.texts[key] == saved
                choose(panel.row_box, "")


@every
def test_every_field_that_is_asked_is_of_the_schema_and_every_required_one_is_asked_or_given(stage, empty):
    panel = getattr(panels, stage)(empty)
    for job in panel.jobs.values():
        needed = {f.name for f in schema.table(job.table).fields.values() if f.required}
        assert needed <= {*job.own, *job.given}, job.title
        assert {*job.folded, *job.headings} <= {*job.ask}, job.title


def test_a_lot_is_received_by_keyboard_alone_and_its_stock_is_told_at_once(small, type_into, enter):
    panel = panels.lots(small, who="sorrel")
    assert panel.form.texts["movements.moved_by"] == "sorrel", "by whom begins with who sits here"
    type_into(panel.form, {"taxon_id": "AV"})
    assert panel.form.texts["lot_id"] == "AV-5", "a free id, named after the species"
    type_into(panel.form, {
        "seed_unit": "legume", "source_kind": "wild harvest", "movements.moved_at": "2025-03-01", "movements.mass_g": "1800,5",
        "collected_from": "2024-07", "status": "in use",
    })  # fmt: skip
    assert len(palea.open_package(small.folder)["lots"]) == 4, "nothing is on disk before Save"
    assert "seed left by the book 1" in panel.answer_place.value.lower()
    enter(panel.form)
    saved = palea.open_package(small.folder)
    lot, move = saved["lots"].iloc[-1], saved["movements"].iloc[-1]
    assert (lot["lot_id"], lot["collected_from"], lot["seed_unit"]) == ("AV-5", "2024-07", "legume")
    assert (move["lot_id"], move["kind"], move["mass_g"], move["moved_by"]) == ("AV-5", "received", 1800.5, "sorrel")
    assert "Saved" in panel.status.value
    assert panel.form.texts["movements.mass_g"] == "", "the next entry begins blank"


@pytest.mark.parametrize(("name", "text", "sentence"), [
    ("movements.mass_g", "ca. 80", "“ca. 80” is not a number"),
    ("collected_from", "07/08/2023", "7 August 2023 or 8 July 2023"),
    ("mother_plants", "-3", "and 1 or more is possible"),
])
def test_a_mistake_is_told_beside_its_field_while_typing(small, type_into, name, text, sentence):
    panel = panels.lots(small)
    type_into(panel.form, {name: text})
    meaning, said = panel.form.marks[name]
    assert meaning == "error"
    assert sentence in said
    assert panel.form.texts[name] == text, "a box never changes what somebody wrote"


def test_blanks_are_asked_for_when_it_is_saved_and_not_before(small, type_into, enter):
    panel = panels.lots(small)
    type_into(panel.form, {"taxon_id": "AV"})
    assert "seed_unit" not in panel.form.marks
    enter(panel.form)
    assert panel.form.marks["seed_unit"][0] == "error"
    assert "Not saved" in panel.status.value
    assert len(palea.open_package(small.folder)["lots"]) == 4


def test_what_a_rule_says_stands_beside_the_field_that_it_is_about(small, type_into):
    panel = panels.lots(small, job="Draw, weigh or move seed")
    type_into(panel.form, {"lot_id": "AV-T01-1", "kind": "drawn for test", "moved_at": "2025-03-01", "mass_g": "5"})
    said = " ".join(s for _, s in panel.form.marks.values()) + panel.findings.value
    assert "AV-T01-1" in said
    assert "more" in said.lower() or "hold" in said.lower()


def test_readings_of_a_test_are_typed_as_a_sheet_and_answered_at_once(small, type_into, cells, enter):
    panel = panels.lots(small, job="Test a lot", who="sorrel")
    type_into(panel.form, {"lot_id": "AV-T01-1", "quantity": "mass of units"})
    assert [c["name"] for c in panel.grid.columns] == ["number", "mass", "out_of", "note"]
    masses = ("0,521", "0,530", "0,517", "0,526", "0,519", "0,528", "0,523", "0,525")
    cells(panel.grid, {(n, name): text for n, mass in enumerate(masses) for name, text in (("mass", mass), ("out_of", "100"))})
    assert panel.lines.count == 9, "there is always room for one more"
    assert "thousand-seed weight 5.24 g" in panel.answer_place.value
    cells(panel.grid, {(3, "mass"): "heavy"})
    assert panel.grid.marks["3"]["bad"]["mass"].startswith("“heavy” is not a number")
    cells(panel.grid, {(3, "mass"): "0,526"})
    assert panel.grid.marks["3"]["bad"] == {}
    type_into(panel.form, {"method": "eight hundreds", "tested_at": "2025-03-02", "status": "valid"})
    enter(panel.form)
    assert "Saved" in panel.status.value, panel.status.value
    read = palea.open_package(small.folder)["readings"]
    assert read["value"].tolist() == [float(m.replace(",", ".")) for m in masses]
    assert set(read["unit"]) == {"g"}
    assert set(read["out_of"]) == {100}


def test_what_is_typed_is_in_the_draft_and_comes_back(small, type_into, cells):
    panel = panels.lots(small, job="Test a lot")
    type_into(panel.form, {"lot_id": "AV-T01-1", "quantity": "moisture"})
    cells(panel.grid, {(0, "tin"): "12,345"})
    again = panels.lots(palea.open_package(small.folder), job="Test a lot")
    assert again.form.texts["quantity"] == "moisture"
    assert again.lines.typed[0, "tin"] == "12,345"
    assert "back from the draft" in again.status.value


def test_a_saved_row_changes_only_with_a_reason(small, choose, type_into, enter):
    panel = panels.lots(small)
    choose(panel.row_box, "AV-T01-1")
    type_into(panel.form, {"place": "Kettle Down (invented)"})
    enter(panel.form)
    assert "Choose why" in panel.status.value
    choose(panel.reason, "correction" if "correction" in [v for _, v in panel.reason.options] else panel.reason.options[1][1])
    enter(panel.form)
    saved = palea.open_package(small.folder)
    assert saved["lots"].set_index("lot_id").loc["AV-T01-1", "place"] == "Kettle Down (invented)"
    last = saved.journal()[-1]
    assert (last["table"], last["column"], last["new"]) == ("lots", "place", "Kettle Down (invented)")


def test_an_entry_can_begin_like_another_one(journey, choose):
    panel = panels.handling(journey)
    like = next(v for label, v in panel.like_box.options if v)
    choose(panel.like_box, like)
    saved = journey["handling_runs"].set_index("handling_id").loc[like]
    assert panel.form.texts["lot_id"] == saved["lot_id"]
    assert panel.form.texts["done_at"] == "", "the moment is this entry's own"
    assert panel.form.texts["handling_id"] != like


def test_links_are_chosen_by_a_label_and_words_come_with_their_definition(journey):
    panel = panels.lots(journey)
    assert ["AV", "Anthyllis vulneraria (AV)", ""] in listed(panel, "taxon_id")["options"]
    word = next(o for o in listed(panel, "seed_unit")["options"] if o[0] == "legume")
    assert word[2] == schema.word("seed_unit", "legume")["definition"]


def test_a_keep_sample_is_a_lot_of_its_own_moved_out_of_its_parent(small, type_into, enter):
    panel = panels.lots(small, job="Set a keep-sample aside", who="sorrel")
    type_into(panel.form, {"keep_of": "AV-T01-1", "movements.moved_at": "2025-03-02", "movements.mass_g": "2", "taxon_id": "AV",
                           "seed_unit": "legume"})  # fmt: skip
    assert panel.form.texts["lot_id"] == "AV-T01-1-1"
    proposed = panel._proposal()
    move = proposed.rows["movements"][0]
    assert (move["lot_id"], move["counterpart_lot_id"], move["kind"]) == ("AV-T01-1", "AV-T01-1-1", "moved to lot")
    assert proposed.rows["lots"][0]["fraction"] == "keep-sample"


def test_a_failing_handler_is_told_in_the_panel(small, quiet_log, monkeypatch, type_into):
    panel = panels.lots(small)
    monkeypatch.setattr(JobPanel, "_rename", lambda self: 1 / 0)
    type_into(panel.form, {"taxon_id": "AV"})
    assert "This did not work, and nothing was saved: ZeroDivisionError" in panel.status.value


def test_an_unknown_job_is_refused_with_those_that_there_are(small):
    with pytest.raises(EntryError, match="There is no job “Count”"):
        panels.lots(small, job="Count")


def test_an_empty_package_teaches_and_can_be_filled(empty, click):
    panel = panels.lots(empty)
    texts = [w.value for w in panel.work.children if hasattr(w, "value")]
    assert "An example: a bag of 1800 g comes in." in texts[0]
    button = next(w for w in panel.work.children if getattr(w, "description", "").startswith("Fill"))
    click(button)
    assert len(palea.open_package(empty.folder)["lots"]) > 200
    assert "Saved" in panel.status.value


def test_a_new_package_is_led_through_its_first_entries(empty, type_into, enter):
    """Person, species, bag, draw, test: the first five minutes, each saved before the next is asked."""
    panel = panels.lots(empty)
    assert panel.job.title == "Name a person or a firm"
    entries = (
        {"person_id": "fennel", "kind": "person", "name": "A. Fennel (invented)", "consent_to_publish": "true"},
        {"taxon_id": "AV", "scientific_name": "Anthyllis vulneraria"},
        {"taxon_id": "AV", "seed_unit": "legume", "source_kind": "purchased", "movements.moved_at": "2025-03-01",
         "movements.mass_g": "1800", "status": "in use"},
    )  # fmt: skip
    for texts, onward in zip(entries, ("name a species", "receive a lot", "test a lot"), strict=True):
        type_into(panel.form, texts)
        enter(panel.form)
        assert "Saved" in panel.status.value, panel.status.value
        assert f"Next: {onward}" in panel.status.value
    assert panel.job.title == "Test a lot"
    saved = palea.open_package(empty.folder)
    assert [len(saved[t]) for t in ("people", "taxa", "lots", "movements")] == [1, 1, 1, 1]
