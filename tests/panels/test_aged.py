"""A panel that stays open says so when what it read has changed on disk, and holds nothing against a change of its own."""

import palea
from palea import panels
from palea.stamp import Stamp
from palea.tables import saving


def elsewhere(package, **row):
    """Save a row of lots as another program would: opened by itself, from the same folder."""
    other = palea.open_package(package.folder)
    return saving.save(other.having("lots", [row]), Stamp("thrift", "2025-03-13T09:00:00+00:00"), "entry")


def first_lot(package):
    return package["lots"]["lot_id"].iloc[0]


def test_a_panel_that_answers_from_older_files_says_so(small):
    panel = panels.lots(small)
    assert panel.aged.value == ""
    elsewhere(small, lot_id=first_lot(small), notes="Moved to the dry store.")
    panel.guarded(lambda: None)()
    assert "lots.csv was changed since this panel read it" in panel.aged.value
    assert "run all cells to read anew" in panel.aged.value
    assert "What you typed is kept as a draft." in panel.aged.value


def test_a_save_onto_older_files_is_refused_and_the_panel_says_which(small, type_into, enter):
    panel = panels.lots(small, who="sorrel")
    elsewhere(small, lot_id=first_lot(small), notes="Moved to the dry store.")
    before = (small.folder / "data" / "lots.csv").read_bytes()
    type_into(panel.form, {
        "taxon_id": "AV", "seed_unit": "legume", "source_kind": "wild harvest", "movements.moved_at": "2025-03-01",
        "movements.mass_g": "1800", "collected_from": "2024-07", "status": "in use",
    })  # fmt: skip
    enter(panel.form)
    assert "Saved" not in panel.status.value
    assert (small.folder / "data" / "lots.csv").read_bytes() == before
    assert "lots.csv" in panel.aged.value


def test_what_a_panel_saved_itself_is_no_change_of_others(small, type_into, write, click):
    panel = panels.germination(small, who="sorrel")
    type_into(panel.form, {"visited_at": "2025-03-11"})
    write(panel, {("G1-AV-T01-1-1", "normal"): "4", ("G1-AV-T01-1-1", "abnormal"): "0"})
    click(panel.save_button)
    assert "Saved" in panel.status.value
    assert panel.aged.value == ""
