"""The field panel by function: standing, new and dead plants apart, thinning, unsown plots, what is saved."""

import pytest

import palea
from palea.errors import EntryError
from palea.panels.field import field, growing

PLOT = "F1-AM-T03-01"  # plot P001, in which both AM and wild CC were looked for


@pytest.fixture
def counted(journey):
    """The field panel of F1 with the visit of week 16 open."""
    return field(journey, trial="F1", who="fennel")


def line_of(panel, name):
    return panel.sheet_work.sheet.names.index(name)


def write(panel, texts):
    """Type texts into boxes of the sheet as the browser does."""
    edits = [[line_of(panel, name), outcome, text] for (name, outcome), text in texts.items()]
    panel.grid._handle_msg({"content": {"data": {"method": "custom", "content": {"edits": edits, "at": 1}}}, "buffers": []})


def bad(panel, name):
    return panel.grid.marks[str(line_of(panel, name))]["bad"]


def test_the_sheet_is_in_walking_order_with_a_line_a_species_and_no_sums(counted, choose):
    choose(counted.visit_box, "F1-W12")
    places = [line[1] for line in counted.grid.lines]
    assert places[:4] == ["1 / 1", "1 / 1", "1 / 2", "1 / 2"]
    assert {c["name"] for c in counted.grid.columns} >= {"emerged", "standing", "last standing"}
    assert not {"total", "left"} & {c["name"] for c in counted.grid.columns}, "standing plants are not new ones"
    assert counted.grid.lines[0][0] == "P001 AM", "the counter is blind: codes stand for plots"


def test_unsown_plots_are_counted_for_the_species_that_were_found_there(counted):
    sheet = counted.sheet_work.sheet
    unsown = sheet.lines[sheet.lines["treatment"].eq("unsown")]
    assert len(unsown)
    assert unsown["sown"].isna().all()


@pytest.mark.parametrize(("visit", "outcome", "text", "sentence"), [
    ("F1-W16", "standing", "40", "40 stand, though only"),
    ("F1-W12", "standing", "x", "“x” is not a number"),
    ("F1-W09", "emerged", "200", "were sown"),
    ("F1-W13", "kept", "30", "kept"),
])
def test_a_mistake_is_told_beside_its_line_by_the_rules_of_the_stage(counted, choose, visit, outcome, text, sentence):
    choose(counted.visit_box, visit)
    name = f"{PLOT} AM"
    write(counted, {(name, outcome): text})
    said = " ".join(bad(counted, name).values())
    assert sentence in said
    assert "F1-AM-T03-01" not in said, "a plot's id would tell its treatment to a blind counter"
    saved = counted.sheet_work.sheet.shown_text(line_of(counted, name), outcome)
    write(counted, {(name, outcome): saved})
    assert bad(counted, name) == {}


def test_a_new_visit_is_saved_with_species_and_observer(tmp_path, journey_folder, type_into, click):
    import shutil

    package = palea.open_package(shutil.copytree(journey_folder, tmp_path / "journey"))
    panel = field(package, trial="F2", who="sorrel")
    type_into(panel.form, {"visited_at": "2025-07-02", "looked_for": "standing", "counting": "standing"})
    name = panel.sheet_work.sheet.names[0]
    last = panel.grid.lines[0][[c["name"] for c in panel.grid.columns].index("last standing")]
    write(panel, {(name, "standing"): last or "0"})
    click(panel.save_button)
    assert "Saved" in panel.status.value, panel.status.value + panel.findings.value
    row = palea.open_package(package.folder)["counts"].iloc[-1]
    line = panel.sheet_work.sheet.lines.iloc[0]
    assert (row["unit_id"], row["taxon_id"], row["observer"], row["outcome"]) == (line["unit"], line["taxon"], "sorrel", "standing")


def test_a_trial_of_dishes_is_none_of_the_field(journey):
    with pytest.raises(EntryError, match="no trial “G1” with lines in use"):
        field(journey, trial="G1")


def test_a_plant_is_tagged_and_measured(journey, type_into):
    panel = growing(journey, who="thrift")
    type_into(panel.form, {"unit_id": PLOT})
    assert panel.form.texts["plant_id"].startswith(f"{PLOT}-p")
