"""Sheets in and out on screen: what was understood first, then kept; sheets, labels and files written."""

import palea
from palea import panels


def sheet_of(small, text):
    path = small.folder.parent / "own.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_sheet_is_shown_first_and_kept_after(small, click, choose):
    units = small["units"]["unit_id"].tolist()
    rows = "\n".join(f"{unit},2025-03-20,{n}" for n, unit in enumerate(units, 1))
    panel = panels.take_in(small, sheet_of(small, f"unit_id,date,normal\n{rows}\n"), who="sorrel")
    before = len(small["counts"])
    choose(panel.boxes["counting"], "new")
    panel.boxes["by"].value = "sorrel"
    click(panel.look_button)
    assert "Read as" in panel.shown.value
    assert "Not kept yet" in panel.status.value, panel.status.value + panel.shown.value
    assert len(palea.open_package(small.folder)["counts"]) == before, "a look writes nothing"
    click(panel.save_button)
    assert "Saved" in panel.status.value, panel.status.value
    assert len(palea.open_package(small.folder)["counts"]) == before + len(units)


def test_what_is_not_understood_is_asked_and_nothing_is_kept(small, click):
    panel = panels.take_in(small, sheet_of(small, "a,b\nx,1\n"))
    click(panel.save_button)
    assert "Nothing was kept" in panel.status.value
    click(panels.take_in(small).look_button)


def test_a_file_that_is_not_there_is_a_sentence(small, click):
    panel = panels.take_in(small, small.folder / "none.csv")
    click(panel.look_button)
    assert "Error" in panel.status.value
    assert "Traceback" not in panel.status.value


def test_a_count_sheet_labels_and_a_file_are_written(small, click, choose):
    panel = panels.out(small, who="sorrel")
    click(panel.sheet_button)
    assert small.folder.with_name("small-G1-sheet.xlsx").is_file(), panel.status.value
    choose(panel.label_box, "lots")
    click(panel.label_button)
    assert "<svg" in small.folder.with_name("small-labels-lots.html").read_text(encoding="utf-8")
    note = small.folder.parent / "note.txt"
    note.write_text("seen", encoding="utf-8")
    click(panel.attach_button)
    assert "Name the file" in panel.status.value
    panel.file_box.value, panel.id_box.value, panel.shows_box.value = str(note), "AV-T01-1", "a note"
    click(panel.attach_button)
    assert "Saved" in panel.status.value, panel.status.value
    assert len(palea.open_package(small.folder)["attachments"]) == 1
