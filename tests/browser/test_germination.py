"""The germination notebook as a technician meets it: JupyterLab, keyboard, files."""

import os
import re
from pathlib import Path

import nbformat
import pytest
from playwright.sync_api import expect

import palea
from palea.shipped import folder
from palea.stamp import Stamp
from palea.tables import saving
from palea.tables.beginning import new_package

pytestmark = pytest.mark.browser
NOTEBOOK = folder("notebooks") / "07_germination.ipynb"
PICTURES = os.environ.get("PALEA_PICTURES")  # a folder: pictures of each step are kept there, to be looked at
STAMP = Stamp("fennel", "2024-02-20T09:00:00+00:00")
LAST_KEPT = "2024-02-17"
DAY = "2024-02-18T09:00+01:00"

PASTE = """(box, text) => { const data = new DataTransfer(); data.setData('text/plain', text);
  box.dispatchEvent(new ClipboardEvent('paste', { clipboardData: data, bubbles: true, cancelable: true })); }"""
# Milliseconds from a key stroke to what is said beside its line having changed.
STROKE = """async ([cell, line, column, text]) => {
  const box = jupyterapp.shell.currentWidget.content.widgets[cell].node
    .querySelector(`.palea-sheet [data-line="${line}"][data-column="${column}"]`);
  const said = [...box.closest('tr').querySelectorAll('.palea-sum, .palea-note')];
  const changed = new Promise(r => {
    for (const e of said) new MutationObserver(() => r(performance.now())).observe(e, { childList: true });
  });
  const begun = performance.now();
  box.value = text; box.dispatchEvent(new InputEvent('input', { bubbles: true }));
  return await changed - begun; }"""
# Milliseconds from running a cell to its sheet being painted.
PAINT = """async (cell) => {
  const { content } = jupyterapp.shell.currentWidget, node = content.widgets[cell].node;
  const frame = () => new Promise(requestAnimationFrame);
  const old = node.querySelector('.palea-sheet'), begun = performance.now();
  content.activeCellIndex = cell;
  jupyterapp.commands.execute('notebook:run-cell');
  for (let sheet; !(sheet = node.querySelector('.palea-sheet')) || sheet === old || !sheet.offsetHeight;) await frame();
  await frame();
  return performance.now() - begun; }"""


@pytest.fixture(scope="session")
def running(tmp_path_factory):
    """The demo as it stood on a day in the middle of the trial: later visits are still to come."""
    place = tmp_path_factory.mktemp("running") / "package"
    package = palea.copy_of_demo(place)
    visits, counts = package["visits"], package["counts"]
    kept = visits[visits["trial_id"].ne("G1") | (visits["visited_at"] < LAST_KEPT)]
    package = package.replacing("visits", kept.reset_index(drop=True))
    package = package.replacing("counts", counts[counts["visit_id"].isin(kept["visit_id"])].reset_index(drop=True))
    for answers in ("results", "analyses"):
        package = package.replacing(answers, package[answers].head(0))
    saving.save(package, STAMP, "entry")
    return place


def picture(page, name):
    """Keep a picture where somebody asked for pictures."""
    if PICTURES:
        page.locator(".jp-NotebookPanel").screenshot(path=Path(PICTURES) / f"{name}.png")


def dishes(page):
    """Names of the dishes in view, in walking order."""
    return page.locator(".palea-sheet tbody th").all_inner_texts()


def box(page, dish, outcome="Normal seedling"):
    """The box of a dish."""
    return page.locator(".palea-panel").get_by_label(f"{dish}, {outcome}", exact=True)


def line(page, dish):
    """The line of a dish."""
    return page.locator(".palea-sheet tbody tr").filter(has=page.get_by_role("rowheader", name=dish, exact=True))


def test_counts_are_typed_by_keyboard_mended_saved_and_drawn(run_notebook, running, theme):
    page, package, passed = run_notebook(NOTEBOOK, running)
    assert passed is True
    panel = page.locator(".palea-panel").first
    panel.get_by_label("When", exact=True).fill(DAY)
    first, second, third = dishes(page)[:3]
    box(page, first).click()
    page.keyboard.type("1")
    page.keyboard.press("Tab")
    page.keyboard.type("o")
    expect(box(page, first, "Abnormal seedling")).to_have_attribute("aria-invalid", "true")
    expect(line(page, first)).to_contain_text("■ Error. “o” is not a number; write 4, or leave it blank.")
    page.keyboard.press("Enter")  # down
    expect(box(page, second, "Abnormal seedling")).to_be_focused()
    page.keyboard.type("0")
    page.keyboard.press("Shift+Tab")
    page.keyboard.type("26")
    expect(line(page, second)).to_contain_text("seeds came up or were taken out, 25 were sown.")
    picture(page, "mistakes")
    panel.get_by_role("button", name="Save", exact=True).click()
    expect(panel.locator(".palea-status")).to_contain_text(f"Not saved. {first}: “o” is not a number")
    box(page, second).click()
    page.keyboard.type("1")  # what stood there is selected, so a new number takes its place
    page.keyboard.press("ArrowUp")
    expect(box(page, first)).to_be_focused()
    page.keyboard.press("ArrowRight")
    page.keyboard.type("0")
    page.keyboard.press("ArrowDown")
    page.keyboard.press("ArrowDown")
    expect(box(page, third, "Abnormal seedling")).to_be_focused()
    expect(page.locator(".palea-progress")).to_have_text("2 of 448 dishes counted, 4 counts not saved yet.")
    panel.get_by_role("button", name="Save", exact=True).click()
    expect(panel.locator(".palea-status")).to_contain_text("Saved 4 counts of visit G1-2024-02-18", timeout=60_000)
    counts = palea.open_package(package)["counts"]
    new = counts[counts["visit_id"].eq("G1-2024-02-18")]
    assert sorted(new["count"]) == [0, 0, 1, 1]
    panel.get_by_text("Blind: codes, no treatments").click()
    expect(panel.locator(".palea-figure svg path").first).to_be_attached(timeout=60_000)
    picture(page, "saved-light")
    theme("JupyterLab Dark")
    picture(page, "saved-dark")


def test_what_was_typed_survives_the_kernel(run_notebook, running, restart):
    page, package, _ = run_notebook(NOTEBOOK, running)
    panel = page.locator(".palea-panel").first
    panel.get_by_label("When", exact=True).fill(DAY)
    first, second = dishes(page)[:2]
    box(page, first).fill("3")
    box(page, second).fill("x")
    expect(line(page, second)).to_contain_text("“x” is not a number")
    assert restart() is True
    expect(box(page, first)).to_have_value("3")
    expect(box(page, second)).to_have_value("x")
    expect(line(page, second)).to_contain_text("“x” is not a number")
    expect(panel.get_by_label("When", exact=True)).to_have_value(DAY)
    expect(panel.locator(".palea-status")).to_contain_text("2 counts typed before are back from the draft")
    assert "G1-2024-02-18" not in set(palea.open_package(package)["visits"]["visit_id"])


def test_a_dead_kernel_is_said_beside_the_sheet(run_notebook, running):
    page, _, _ = run_notebook(NOTEBOOK, running)
    first = dishes(page)[0]
    page.evaluate("() => jupyterapp.shell.currentWidget.sessionContext.session.kernel.shutdown()")
    box(page, first).fill("3")
    alarm = page.locator(".palea-progress + .palea-alarm")  # the sheet's own; the form has one too
    expect(alarm).to_contain_text("Not kept yet: the kernel does not answer", timeout=15_000)


def test_a_block_from_a_spreadsheet_finds_its_place(run_notebook, running):
    page, _, _ = run_notebook(NOTEBOOK, running)
    names = dishes(page)
    box(page, names[2]).evaluate(PASTE, "1\t0\r\n2\t1\r\n")
    expect(box(page, names[3], "Abnormal seedling")).to_have_value("1")
    expect(page.locator(".palea-progress")).to_contain_text("4 counts not saved yet")
    box(page, names[0]).evaluate(PASTE, f"{names[9]}\t3\t0\n{names[7]}\t2\t0")
    expect(box(page, names[9])).to_have_value("3")
    expect(box(page, names[7])).to_have_value("2")
    expect(box(page, names[0])).to_have_value("")
    box(page, names[-1]).evaluate(PASTE, "1\t0\n2\t0")
    expect(page.locator(".palea-progress + .palea-alarm")).to_have_text(re.compile("2 of 4 pasted cells lie outside the sheet"))


def test_every_text_can_be_read_in_both_themes(run_notebook, running, theme, faint):
    page, _, _ = run_notebook(NOTEBOOK, running)
    first = dishes(page)[0]
    box(page, first).fill("not looked")
    box(page, first, "Abnormal seedling").fill("x")
    expect(line(page, first)).to_contain_text("“x” is not a number")
    page.locator(".palea-panel").first.get_by_role("button", name="Save", exact=True).click()
    expect(page.locator(".palea-status")).to_contain_text("Not saved")
    for name in ("JupyterLab Light", "JupyterLab Dark"):
        theme(name)
        assert faint() == []
        page.add_style_tag(content=".palea-progress { color: gray !important; }")
        assert any("dishes counted" in text for text in faint()) == (name == "JupyterLab Light"), "gray is 3.9 to 1 on white"


def test_the_notebook_teaches_on_an_empty_package(run_notebook, tmp_path):
    new_package(tmp_path / "new", "My own seed", STAMP)
    page, package, passed = run_notebook(NOTEBOOK, tmp_path / "new")
    assert passed is True
    panel = page.locator(".palea-panel").first
    expect(panel).to_contain_text("This package has no dishes yet")
    picture(page, "empty")
    panel.get_by_role("button", name="Fill this empty package from the demo").click()
    expect(page.locator(".palea-sheet tbody tr").first).to_be_visible(timeout=60_000)
    whole = palea.open_package(folder("datapackages_demo") / "journey")
    assert len(palea.open_package(package)["units"]) == len(whole["units"])


def test_keys_do_not_reach_the_notebook(run_notebook, running):
    """D D on a focused button deletes a cell in command mode, and Shift+Enter in a box runs it, unless they are kept in."""
    page, _, _ = run_notebook(NOTEBOOK, running)
    cells = page.locator(".jp-Cell").count()
    ours = page.locator(".jp-CodeCell").filter(has=page.locator(".palea-sheet")).first.locator(".jp-InputPrompt")
    before = ours.inner_text()
    page.locator(".palea-panel").first.get_by_role("button", name="Save", exact=True).focus()
    for key in "ddxabm":
        page.keyboard.press(key)
    first, second = dishes(page)[:2]
    box(page, second).click()
    page.keyboard.press("Shift+Enter")
    expect(box(page, first)).to_be_focused()
    assert ours.inner_text() == before
    assert page.locator(".jp-MarkdownCell").count() + page.locator(".jp-CodeCell").count() >= 5
    assert page.locator(".palea-sheet").count() == 1
    assert page.locator(".jp-Cell").count() - cells <= 2, "a and b may add a cell; none is deleted"


def test_times_are_printed(run_notebook, running, capsys, tmp_path):
    """No limit here: limits belong to the benchmark. What was measured is printed."""
    sheets = {
        "448 dishes": ("germination(package, trial='G1')", "normal"),
        "411 lines of plots": ("field(package, trial='F1')", "standing"),
    }
    cells = ["import palea\npackage = palea.copy_of_demo('palea-demo')", *(f"palea.panels.{call}" for call, _ in sheets.values())]
    python = {"kernelspec": {"name": "python3", "display_name": "Python 3", "language": "python"}}
    book = nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell(cell) for cell in cells], metadata=python)
    nbformat.write(book, tmp_path / "times.ipynb")
    page, _, passed = run_notebook(tmp_path / "times.ipynb", running)
    assert passed is True
    for cell, (what, (_, column)) in enumerate(sheets.items(), 1):
        paints = sorted(page.evaluate(PAINT, cell) for _ in range(3))
        strokes = sorted(page.evaluate(STROKE, [cell, 5, column, "x1"[n % 2]]) for n in range(20))
        with capsys.disabled():
            print(  # noqa: T201 - a figure for whoever looks, never a limit
                f"\n{what}: first paint, median {paints[1]:.0f} ms, slowest {paints[-1]:.0f} ms; "
                f"key stroke to feedback, median {strokes[10]:.0f} ms, slowest {strokes[-1]:.0f} ms"
            )
