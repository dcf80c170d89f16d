"""Pictures and walks on screen, and the start page with what is due."""

import re

import pytest

from palea import panels
from palea.bench.day import Job
from palea.panels.overview import OF_ALL, OF_SPECIES
from palea.panels.start import _missed


@pytest.mark.parametrize("name", [*OF_SPECIES, *OF_ALL])
def test_every_picture_is_drawn_or_says_what_is_missing(journey, click, choose, name):
    panel = panels.overview(journey)
    choose(panel.picture_box, name)
    click(panel.draw_button)
    assert "<svg" in panel.picture.value or "palea analyse" in panel.status.value, panel.status.value
    assert "did not work" not in panel.status.value


def test_the_walk_of_a_plot_ends_at_the_collected_seed(journey, click):
    panel = panels.overview(journey)
    click(panel.back_button)
    assert "Write the id" in panel.status.value
    panel.id_box.value = "F1-AM-T07-03"
    click(panel.back_button)
    assert "AM-0" in panel.steps.value
    panel.id_box.value = "no such thing"
    click(panel.on_button)
    assert "Error" in panel.status.value


def test_the_start_page_tells_what_is_due_and_every_stage(journey, empty):
    told = panels.start(journey).list_.value
    assert "Missed" in told
    assert "08_field" in told
    assert "Nothing is planned for today" in panels.start(empty).list_.value


def test_missed_jobs_are_folded_by_trial_and_by_kind_with_the_latest_first():
    jobs = [Job("count", "G1", "planned visit", f"2025-01-{d:02d}") for d in range(1, 6)]
    jobs += [Job("renew", "G1", "solution of G1-dry", "2025-01-09"), Job("weigh", "AV-0", "last done on 2024-02-01", "2025-02-01")]
    told = _missed(jobs, {"G1"})
    assert "<h3>Missed, 7 jobs</h3>" in told
    folded = ["Trial G1: 6, the latest on 2025-01-09", "Weigh: 1, the latest on 2025-02-01"]
    assert re.findall("<summary>(.*?)</summary>", told) == folded
    lines = re.findall(r"<p.*?>(.*?)</p>", told)
    assert lines == [
        "2025-01-09, G1: renew; solution of G1-dry.",
        "2025-01-05, G1: count; planned visit.", "2025-01-04, G1: count; planned visit.",
        "and 3 before; palea day lists them all.", "2025-02-01, AV-0: weigh; last done on 2024-02-01.",
    ]  # fmt: skip
    assert _missed([], set()) == ""


def test_an_empty_package_has_no_picture_yet(empty, click):
    panel = panels.overview(empty)
    click(panel.draw_button)
    assert "did not work" not in panel.status.value
