"""Panels driven by function: what the browser would send, and handlers that fail loudly.

ipywidgets logs what a handler raises and goes on, so that a test of a broken panel would pass. Here both ways out are
closed: what ipywidgets swallows is raised, and so is what the panel's own guard logs.
"""

import importlib.util
import logging
from pathlib import Path

import pytest

_spec = importlib.util.spec_from_file_location("bench_conftest", Path(__file__).parents[1] / "bench" / "conftest.py")
_bench = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(_bench)
empty, master, small, stamp = _bench.empty, _bench.master, _bench.small, _bench.stamp  # the packages that the entry tests use


class Loud:
    """Stands in for IPython inside ipywidgets: it is asked to show a traceback, and raises instead."""

    def showtraceback(self):
        """Called inside an except block, so a bare raise re-raises what the handler raised."""
        raise  # noqa: PLE0704


class Raises(logging.Handler):
    """What a panel logs as our own failure fails the test."""

    def emit(self, record):
        """Raise what was logged."""
        if record.exc_info:
            raise record.exc_info[1]


@pytest.fixture(autouse=True)
def handlers_fail_loudly(monkeypatch):
    """No handler may fail in silence."""
    monkeypatch.setattr("ipywidgets.widgets.widget.get_ipython", Loud)
    log, loud = logging.getLogger("palea.panels"), Raises()
    log.addHandler(loud)
    yield
    log.removeHandler(loud)


@pytest.fixture
def quiet_log():
    """For the one test that wants a failure to be shown and not raised."""
    log = logging.getLogger("palea.panels")
    kept, log.handlers = log.handlers, [logging.NullHandler()]
    yield
    log.handlers = kept


@pytest.fixture
def click():
    """Click a button as the browser does."""
    return lambda button: button._handle_msg(
        {"content": {"data": {"method": "custom", "content": {"event": "click"}}}, "buffers": []}
    )


@pytest.fixture
def put():
    """Set traits of a widget as the browser does."""
    return lambda widget, **state: widget._handle_msg(
        {"content": {"data": {"method": "update", "state": state, "buffer_paths": []}}, "buffers": []}
    )


@pytest.fixture
def write():
    """Type texts into boxes of a sheet as the browser does: write(panel, {("G1-AV-T01-1-1", "normal"): "4"})."""

    def into(panel, texts):
        edits = [[panel.sheet_work.sheet.names.index(unit), outcome, text] for (unit, outcome), text in texts.items()]
        panel.grid._handle_msg(
            {"content": {"data": {"method": "custom", "content": {"edits": edits, "at": 1}}}, "buffers": []}
        )

    return into


@pytest.fixture
def type_into():
    """Type into boxes of a form as the browser does: type_into(panel.form, {"mass_g": "12,5"})."""

    def into(form, texts):
        edits = list(texts.items())
        form._handle_msg({"content": {"data": {"method": "custom", "content": {"edits": edits, "at": 1}}}, "buffers": []})

    return into


@pytest.fixture
def enter():
    """Press Enter in the last box of a form, or Ctrl+Enter in any."""
    return lambda form: form._handle_msg(
        {"content": {"data": {"method": "custom", "content": {"act": "save", "at": 1}}}, "buffers": []}
    )


@pytest.fixture
def cells():
    """Type texts into boxes of a sheet of lines: cells(panel.grid, {(0, "mass"): "0,52"})."""

    def into(grid, texts):
        edits = [[line, column, text] for (line, column), text in texts.items()]
        grid._handle_msg({"content": {"data": {"method": "custom", "content": {"edits": edits, "at": 1}}}, "buffers": []})

    return into


@pytest.fixture
def choose():
    """Choose a value of a drop-down as the browser does."""
    return lambda box, value: box._handle_msg(
        {"content": {"data": {"method": "update", "state": {"index": [v for _, v in box.options].index(value)},
                              "buffer_paths": []}}, "buffers": []}
    )  # fmt: skip


@pytest.fixture(scope="session")
def journey_folder(tmp_path_factory):
    """A copy of the invented journey that tests may write to; each takes care of its own rows."""
    import shutil

    from palea.shipped import folder

    return shutil.copytree(folder("datapackages_demo") / "journey", tmp_path_factory.mktemp("journey") / "journey")


@pytest.fixture
def journey(journey_folder):
    """The invented journey, opened anew."""
    import palea

    return palea.open_package(journey_folder)
