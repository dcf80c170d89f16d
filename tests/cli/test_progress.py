"""How far a command has come, on a terminal and elsewhere."""

from types import SimpleNamespace

import pytest

from palea.cli import progress
from palea.demo import tour


def said(bar, *steps):
    """(completed, total) after each step, for a bar on a terminal."""
    found = []
    for step in steps:
        bar(*step)
        (task,) = bar._bar.tasks
        found.append((task.completed, task.total))
    return found


@pytest.fixture
def watched(monkeypatch):
    monkeypatch.setattr(progress, "is_terminal", lambda: True)


def test_a_bar_shows_what_is_done_of_all_that_is_known_of(watched, capsys):
    with progress.Bar(2) as bar:
        seen = said(bar, ("Writing",), ("[1/1 so far] G1: a", 1, 1), ("[2/3] G1: b", 2, 3), ("[3/3] G1: c", 3, 3), ("Sharing",))
    assert seen == [(0, 2), (1, 3), (2, 5), (3, 5), (4, 5)]
    assert "Done" in capsys.readouterr().err


def test_a_bar_that_was_stopped_by_an_error_is_not_done(watched, capsys):
    def cut_off():
        with progress.Bar(2) as bar:
            bar("Writing")
            msg = "full"
            raise OSError(msg)

    with pytest.raises(OSError, match="full"):
        cut_off()
    assert "Done" not in capsys.readouterr().err


def test_elsewhere_each_step_is_a_sentence(capsys):
    with progress.Bar() as bar:
        bar("[1/2] G1: germination.final", 1, 2)
    assert capsys.readouterr().err == "[1/2] G1: germination.final\n"


def test_the_tour_has_the_stages_that_it_says(tmp_path, monkeypatch):
    def two_answers(*_, progress, **__):
        progress("[1/2] G1: a", 1, 2)
        progress("[2/2] G1: b", 2, 2)
        return []

    for name in ("write", "check", "keep", "share"):
        monkeypatch.setattr(tour, name, lambda *_, **__: ())
    monkeypatch.setattr(tour, "answer_all", two_answers)
    monkeypatch.setattr(tour.methods, "write", lambda *_, **__: None)
    monkeypatch.setattr(tour, "rerun", lambda _: SimpleNamespace(told=lambda: "", agrees=True))
    steps = []
    tour.walk(tmp_path / "demo", step=lambda *told: steps.append(told))
    assert [len(step) for step in steps].count(1) == tour.STAGES
    assert [step[1:] for step in steps if len(step) > 1] == [(1, 2), (2, 2)]
