"""The layout on screen: drawn while it is filled in, kept as units, locked."""

import palea
from palea import panels
from palea.bench import entry


def planned(small, stamp):
    """The small package with a trial that has no units yet."""
    trial = {"trial_id": "F9", "title": "Plots (invented)", "question": "Does the brush matter?", "status": "draft"}
    return entry.save(entry.propose(small, "trials", [trial]), stamp, "entry")


def test_a_plan_is_drawn_kept_and_locked(small, stamp, type_into, click):
    panel = panels.layout(planned(small, stamp), trial="F9", who="sorrel")
    assert "Name the lots of two treatments or more" in panel.shown.value
    type_into(panel.form, {"of AV-T01": "AV-T01-1; AV-T01-2", "of AV-T03": "AV-T03-1", "kind": "plot", "seeds": "20"})
    assert "<svg" in panel.shown.value
    assert len(palea.open_package(small.folder)["units"]) == 8, "nothing is on disk before it is kept"
    click(panel.save_button)
    assert "8 units" in panel.status.value, panel.status.value
    assert panel.lock_button.layout.display is None
    click(panel.lock_button)
    saved = palea.open_package(small.folder)
    assert saved["units"]["trial_id"].eq("F9").sum() == 8
    assert isinstance(saved["trials"].set_index("trial_id").loc["F9", "locked_at"], str)
    assert "Nothing was changed since." in panel.shown.value
    click(panel.lock_button)
    assert "is locked since" in panel.status.value


def test_every_choice_begins_with_a_word_of_its_list_and_the_help_stands_once(small, stamp):
    form = panels.layout(planned(small, stamp), trial="F9").form
    for row in form.rows:
        if row["kind"] == "choice":
            assert form.texts[row["name"]] in [word for word, *_ in row["options"]], row["label"]
    lots = [row for row in form.rows if row["name"].startswith("of ")]
    assert len(lots) > 1
    assert [bool(row["help"]) for row in lots] == [True] + [False] * (len(lots) - 1)


def test_what_is_no_number_is_told(small, stamp, type_into):
    panel = panels.layout(planned(small, stamp), trial="F9")
    type_into(panel.form, {"of AV-T01": "AV-T01-1", "of AV-T03": "unsown", "repeats": "many"})
    assert "“many” is not a whole number" in panel.shown.value


def test_an_empty_package_is_told_what_comes_first(empty):
    assert "has no trial yet" in panels.layout(empty).shown.value
