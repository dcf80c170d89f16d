"""The germination panel by function: what is typed, said, kept and shown."""

import re

import pandas as pd
import pytest

import palea
from palea.errors import EntryError
from palea.panels.germination import germination

DISH, OTHER = "G1-AV-T01-1-1", "G1-AV-T01-1-2"


def bad(panel, unit):
    """What stands beside a dish: {outcome: sentence}."""
    return panel.grid.marks[str(panel.sheet_work.sheet.names.index(unit))]["bad"]


def sums(panel, unit):
    """Total and left of a dish, as the sheet shows them."""
    return tuple(panel.grid.marks[str(panel.sheet_work.sheet.names.index(unit))]["sums"].values())


def begin(panel, put, day="2025-03-11", **more):
    """Fill in the form of a new visit."""
    type_into(panel.form, {"visited_at": day, **more})


def chosen(box, value):
    """The state that the browser sends when that value of a drop-down is chosen."""
    return {"index": [v for _, v in box.options].index(value)}


def type_into(form, texts):
    """Type into boxes of a form as the browser does."""
    form._handle_msg({"content": {"data": {"method": "custom", "content": {"edits": list(texts.items()), "at": 1}}}, "buffers": []})


def test_the_sheet_is_in_walking_order_with_the_last_visit_and_what_is_left(small):
    panel = germination(small)
    places = [line[1] for line in panel.grid.lines]
    assert places == sorted(places) == [f"{r} / {c}" for r in (1, 2, 3, 4) for c in (1, 2)]
    line = panel.sheet_work.sheet.names.index(DISH)
    assert panel.grid.lines[line] == ["D05", "1 / 1", "25", "5", "", "0", "", "", "", ""]
    assert sums(panel, DISH) == ("7", "18")  # 2 + 5 normal, 0 + 0 abnormal of 25


def test_a_dish_is_saved_and_on_disk_only_after_save(small, put, click, write):
    panel = germination(small, who="sorrel")
    begin(panel, put)
    write(panel, {(DISH, "normal"): "4", (DISH, "abnormal"): "0"})
    assert sums(panel, DISH) == ("11", "14")
    assert len(palea.open_package(small.folder)["visits"]) == 2, "nothing is on disk before Save"
    click(panel.save_button)
    assert "Saved" in panel.status.value
    saved = palea.open_package(small.folder)
    new = saved["counts"][saved["counts"]["visit_id"].eq("G1-2025-03-11")]
    assert new[["unit_id", "outcome", "taxon_id", "observer", "count"]].to_numpy().tolist() == [
        [DISH, "normal", "AV", "sorrel", 4], [DISH, "abnormal", "AV", "sorrel", 0],
    ]
    visit = saved["visits"].iloc[-1]
    assert (visit["looked_for"], visit["counting"], visit["visited_by"]) == ("normal; abnormal", "new", "sorrel")
    assert bool(visit["blind"]) is True
    assert visit["typed_at"][:4].isdigit()


def test_blank_is_not_zero(small, put, click, write):
    panel = germination(small)
    begin(panel, put)
    write(panel, {(DISH, "normal"): "4", (OTHER, "normal"): "3"})
    write(panel, {(OTHER, "normal"): ""})
    click(panel.save_button)
    counts = palea.open_package(small.folder)["counts"]
    assert counts["visit_id"].eq("G1-2025-03-11").sum() == 1
    assert panel.grid.progress.startswith("0 of 8 dishes counted"), "a half typed dish is not counted"


@pytest.mark.parametrize(("text", "sentence"), [
    ("19", "26 seeds came up or were taken out, 25 were sown. Look at its last sheet for a slip."),
    ("x", "“x” is not a number; write 4, or leave it blank."),
    ("2.5", "“2.5” is not a whole number; Count is counted: write it as 4."),
    ("-1", "Count is -1, and 0 or more is possible; look for a slip, or a wrong unit."),
    ("not loked", "“not loked” is not a number; write 4, or leave it blank."),
])
def test_a_mistake_is_explained_beside_its_dish_and_stands_in_the_way(small, put, click, write, text, sentence):
    panel = germination(small)
    begin(panel, put)
    write(panel, {(DISH, "normal"): text})
    assert bad(panel, DISH)["normal"].startswith(sentence)
    assert panel.grid.progress.endswith("1 line to look at.")
    click(panel.save_button)
    assert "Not saved. D05: " in panel.status.value
    assert len(palea.open_package(small.folder)["visits"]) == 2
    write(panel, {(DISH, "normal"): "18"})
    assert bad(panel, DISH) == {}
    assert sums(panel, DISH) == ("25", "0")
    click(panel.save_button)
    assert "Saved" in panel.status.value


def test_a_reason_takes_the_place_of_a_number(small, put, click, write):
    panel = germination(small)
    begin(panel, put)
    write(panel, {(DISH, "normal"): "not looked"})
    line = str(panel.sheet_work.sheet.names.index(DISH))
    assert panel.grid.marks[line] == {"sums": {"total": "7", "left": "18"}, "bad": {}, "said": "Normal seedling: not looked"}
    click(panel.save_button)
    row = palea.open_package(small.folder)["counts"].iloc[-1]
    assert pd.isna(row["count"])
    assert row["missing"] == "not looked"


def test_running_totals_are_taken_as_totals_and_may_not_fall(small, put, click, write):
    panel = germination(small)
    begin(panel, put, counting="cumulative")
    line = panel.sheet_work.sheet.names.index(DISH)
    assert panel.grid.lines[line][3] == "7", "in grey stands the total so far"
    write(panel, {(DISH, "normal"): "9"})
    assert sums(panel, DISH) == ("9", "16")
    write(panel, {(DISH, "normal"): "6"})
    assert bad(panel, DISH)["normal"].startswith("Unit D05, normal: the running total falls from 7 to 6.")


def test_the_last_visit_asks_for_every_seed_that_did_not_germinate(small, put, write):
    panel = germination(small)
    every = "; ".join(name for name, *_ in next(r for r in panel.form.rows if r["name"] == "looked_for")["options"])
    type_into(panel.form, {"looked_for": every})
    titles = [c["group"] for c in panel.grid.columns if c["kind"] == "count"]
    assert titles[:2] == ["Normal seedling", "Abnormal seedling"]
    assert {"Dead seed", "Empty unit", "Hard seed", "Fresh seed"} <= set(titles)
    assert panel.grid.columns[-1]["below"] is True, "so many boxes leave no room beside the line"
    write(panel, {(DISH, "hard"): "10", (DISH, "empty"): "9"})
    assert "26 seeds came up or were taken out, 25 were sown." in bad(panel, DISH)["hard"]


def test_what_is_typed_is_in_the_draft_and_comes_back(small, put, write):
    panel = germination(small, who="sorrel")
    begin(panel, put, notes="Mould on one.")
    write(panel, {(DISH, "normal"): "4", (OTHER, "normal"): "x"})
    again = germination(palea.open_package(small.folder), who="sorrel")
    assert again.form.texts == panel.form.texts
    assert again.sheet_work.typed == {(DISH, "normal"): "4", (OTHER, "normal"): "x"}
    assert (again.grid.lines, again.grid.typed, again.grid.marks) == (panel.grid.lines, panel.grid.typed, panel.grid.marks)
    assert "2 counts typed before are back from the draft" in again.status.value


def test_saving_takes_the_draft_away(small, put, click, write):
    panel = germination(small)
    begin(panel, put)
    write(panel, {(DISH, "normal"): "4"})
    assert list((small.folder / "drafts").iterdir())
    click(panel.save_button)
    assert list((small.folder / "drafts").iterdir()) == []
    assert germination(palea.open_package(small.folder)).sheet_work.typed == {}


def test_a_panel_rebuilt_from_files_is_the_same_panel(small, put, click, write):
    panel = germination(small)
    begin(panel, put)
    write(panel, {(DISH, "normal"): "4"})
    click(panel.save_button)
    again = germination(palea.open_package(small.folder), who=None)
    put(again.visit_box, **chosen(again.visit_box, "G1-2025-03-11"))
    assert (again.grid.lines, again.grid.typed, again.grid.marks) == (panel.grid.lines, panel.grid.typed, panel.grid.marks)


def test_a_saved_count_changes_only_with_a_reason_and_never_becomes_blank(small, put, click, write):
    panel = germination(small)
    put(panel.visit_box, **chosen(panel.visit_box, "G1-D07"))
    assert panel.reason.layout.display == "none"
    write(panel, {(DISH, "normal"): ""})
    assert bad(panel, DISH)["normal"].startswith("5 is saved here; type the right number")
    write(panel, {(DISH, "normal"): "6"})
    assert panel.reason.layout.display is None
    click(panel.save_button)
    assert "Saved counts would change. Choose why" in panel.status.value
    put(panel.reason, **chosen(panel.reason, "misread"))
    put(panel.words, value="a 5 that is a 6")
    click(panel.save_button)
    line = palea.open_package(small.folder).journal()[-1]
    assert (line["old"], line["new"], line["reason"], line["words"]) == ("5", "6", "misread", "a 5 that is a 6")


def test_typing_back_what_is_saved_leaves_nothing_to_save(small, put, click, write):
    panel = germination(small)
    put(panel.visit_box, **chosen(panel.visit_box, "G1-D07"))
    write(panel, {(DISH, "normal"): "6"})
    write(panel, {(DISH, "normal"): "5"})
    assert panel.sheet_work.typed == {}
    click(panel.save_button)
    assert "There is nothing new to save" in panel.status.value


def test_a_blind_counter_sees_no_treatment_anywhere(small, put, write):
    panel = germination(small)
    assert panel.blind_box.value is True, "as at the last visit"
    begin(panel, put)
    write(panel, {(DISH, "normal"): "30"})
    cells = [cell for line in panel.grid.lines for cell in line]
    shown = [*panel.grid.names, *cells, *bad(panel, DISH).values(), panel.grid.caption,
             panel.about.value, panel.curve.value, panel.status.value, *(c["title"] for c in panel.grid.columns)]
    assert not [text for text in shown if "T01" in text or "T03" in text]
    assert panel.filters["treatment"].layout.display == "none"
    put(panel.blind_box, value=False)
    assert panel.grid.lines[0][:2] == ["G1-AV-T01-1-1", "AV-T01"]
    assert panel.filters["treatment"].layout.display is None


def test_the_filters_leave_the_lines_that_are_asked_for(small, put, write):
    panel = germination(small)
    put(panel.blind_box, value=False)
    put(panel.filters["treatment"], **chosen(panel.filters["treatment"], "AV-T03"))
    names = panel.sheet_work.sheet.names
    assert {names[line] for line in panel.grid.shown} == {n for n in names if "T03" in n}
    write(panel, {("G1-AV-T03-1-1", "normal"): "99"})
    put(panel.show_box, index=2)
    assert [names[line] for line in panel.grid.shown] == ["G1-AV-T03-1-1"]


def test_the_curve_follows_what_is_saved(small, put, click, write):
    panel = germination(small)
    put(panel.blind_box, value=False)
    assert "by day 7" in panel.curve.value
    assert "<svg" in panel.curve.value
    begin(panel, put)
    write(panel, {(unit, outcome): text for unit in panel.sheet_work.sheet.names
                  for outcome, text in (("normal", "5"), ("abnormal", "0"))})
    click(panel.save_button)
    assert "by day 10" in panel.curve.value


def test_a_date_that_cannot_be_read_is_said_under_its_row(small, put, click, write):
    panel = germination(small)
    begin(panel, put, day="11.3.2025")
    write(panel, {(DISH, "normal"): "4"})
    click(panel.save_button)
    assert "can be 11 March 2025 or 3 November 2025" in panel.form.marks["visited_at"][1]
    assert "Not saved" in panel.status.value


def test_an_empty_package_is_taught_and_filled_from_the_demo(empty, click, monkeypatch, small, tmp_path):
    (tmp_path / "journey").symlink_to(small.folder)
    monkeypatch.setattr("palea.shipped.folder", lambda name: tmp_path)
    panel = germination(empty)
    lesson, fill = panel.work.children
    assert "This package has no dishes yet" in lesson.value
    click(fill)
    assert "The invented demo is in this package now" in panel.status.value
    assert len(panel.sheet_work.sheet) == 8
    assert len(palea.open_package(empty.folder)["counts"]) == 32


def test_a_package_with_seed_but_no_dishes_is_not_filled(small):
    bare = small.replacing("counts", small["counts"].head(0)).replacing("units", small["units"].head(0))
    panel = germination(bare)
    assert [type(w).__name__ for w in panel.work.children] == ["HTML"]


def test_an_unknown_trial_is_named_with_those_there_are(small):
    with pytest.raises(EntryError, match=re.escape("There is no trial “G9” with dishes in use. There are: G1.")):
        germination(small, trial="G9")


def test_text_of_a_package_is_never_taken_as_html(small, stamp):
    from palea.tables import saving

    titled = small.having("trials", [{"trial_id": "G1", "title": "<img src=x onerror=alert(1)>"}])
    titled = titled.having("visits", [{"visit_id": "G1-D07", "looked_for": "normal; abnormal", "visited_by": "sorrel"}])
    named = titled.describing(title="<script>alert(1)</script>")
    panel = germination(saving.save(named, stamp, "typing"))
    assert "<script" not in panel.head.value
    assert "&lt;script&gt;" in panel.head.value


def test_our_own_failure_is_said_and_logged(small, click, monkeypatch, quiet_log, put, write):
    panel = germination(small)
    begin(panel, put)
    write(panel, {(DISH, "normal"): "4"})

    def broken(*_, **__):
        return 1 / 0

    monkeypatch.setattr("palea.bench.entry.save", broken)
    click(panel.save_button)
    assert "This did not work, and nothing was saved: ZeroDivisionError" in panel.status.value
    assert panel.sheet_work.typed == {(DISH, "normal"): "4"}


def test_our_own_failure_fails_a_test(small, click, monkeypatch, put, write):
    """The guard must not hide from our tests what it shows to people."""
    panel = germination(small)
    begin(panel, put)
    write(panel, {(DISH, "normal"): "4"})

    def broken(*_, **__):
        return 1 / 0

    monkeypatch.setattr("palea.bench.entry.save", broken)
    with pytest.raises(ZeroDivisionError):
        click(panel.save_button)


def test_renewal_is_asked_where_solution_is_renewed_and_saved_with_the_visit(journey, type_into, choose):
    """G2 holds dishes on a solution that is renewed each week; G1 has water alone."""
    for trial, asked in (("G1", False), ("G2", True)):
        panel = germination(journey, trial=trial, who="fennel")
        choose(panel.visit_box, "")
        assert ("renewed" in panel.form.texts) is asked
    type_into(panel.form, {"visited_at": "2024-07-01", "visited_by": "fennel", "renewed": "true"})
    row = panel._proposal(panel._visit()).package["visits"].iloc[-1]
    assert (row["visited_at"], row["renewed"]) == ("2024-07-01", True)


@pytest.fixture
def renewing(small, stamp):
    """The small package, its dishes on a solution that is renewed every 3 days."""
    from palea.bench import entry

    place = small["environments"]["environment_id"].iloc[0]
    return entry.save(entry.propose(small, "environments", [{"environment_id": place, "renewed_every_d": "3"}]), stamp, "entry")


def test_a_saved_visit_is_marked_as_renewed_with_a_reason(renewing, put, click, type_into, write, choose):
    """The small package's visit of day 7 does not say whether the solution was renewed; nothing else of it may change."""
    before = renewing["visits"]
    panel = germination(renewing)
    choose(panel.visit_box, "G1-D07")
    assert [row["name"] for row in panel.form.rows if not row["folded"]] == ["renewed"]
    click(panel.save_button)
    assert "There is nothing new to save" in panel.status.value
    type_into(panel.form, {"renewed": "true"})
    assert panel.reason.layout.display is None
    click(panel.save_button)
    assert "A saved visit would change. Choose why" in panel.status.value
    choose(panel.reason, "late sheet")
    put(panel.words, value="the dish log has it")
    click(panel.save_button)
    assert "Visit G1-D07, " in panel.status.value
    saved = palea.open_package(renewing.folder)
    line = saved.journal()[-1]
    told = [line.get(name) for name in ("table", "column", "old", "new", "reason", "words")]
    assert told == ["visits", "renewed", None, "true", "late sheet", "the dish log has it"]
    after = saved["visits"]
    assert after.loc[after["renewed"].fillna(value=False), "visit_id"].tolist() == ["G1-D07"]
    pd.testing.assert_frame_equal(after.drop(columns="renewed"), before.drop(columns="renewed"))
    assert (panel.reason.value, panel.words.value) == ("", ""), "why is said of each change anew"
    assert not list((renewing.folder / "drafts").iterdir())


def test_what_would_change_in_a_saved_visit_is_kept_in_the_draft(renewing, type_into, choose):
    panel = germination(renewing)
    choose(panel.visit_box, "G1-D07")
    shown = panel.grid.lines
    type_into(panel.form, {"renewed": "true", "visited_at": "2025-03-09"})
    assert panel.grid.lines == shown, "the sheet is that of the saved visit until the change is saved"
    again = germination(palea.open_package(renewing.folder))
    assert again.visit_box.value == "G1-D07"
    assert again.form.changes == {"renewed": "true", "visited_at": "2025-03-09"}
    assert "is back from the draft; it is not saved yet" in again.status.value
    type_into(again.form, again.form.begun)
    assert not list((renewing.folder / "drafts").iterdir()), "typed back, it is no change"


def test_a_saved_visit_is_not_put_before_its_sowing(renewing, type_into, choose, click):
    panel = germination(renewing)
    choose(panel.visit_box, "G1-D07")
    type_into(panel.form, {"visited_at": "2024-03-09"})
    choose(panel.reason, "misread")
    click(panel.save_button)
    assert "Not saved" in panel.status.value
    assert "before its seed was wetted on 2025-03-01" in panel.status.value
    assert palea.open_package(renewing.folder)["visits"]["visited_at"].tolist() == renewing["visits"]["visited_at"].tolist()
