"""Pictures and walks on screen, and the start page with what is due."""

import pytest

from palea import panels
from palea.panels.overview import OF_ALL, OF_SPECIES


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


def test_an_empty_package_has_no_picture_yet(empty, click):
    panel = panels.overview(empty)
    click(panel.draw_button)
    assert "did not work" not in panel.status.value
