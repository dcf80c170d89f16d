"""Every notebook as a person meets it in JupyterLab: it runs, nothing is clipped, faint or scrolls sideways, in both themes."""

import os
import shutil
import signal
import subprocess
import time
from pathlib import Path

import nbformat
import pytest
from playwright.sync_api import expect

import palea
from palea import shipped
from palea.stamp import Stamp
from palea.tables import saving
from palea.tables.beginning import new_package

pytestmark = pytest.mark.browser
NOTEBOOKS = sorted(shipped.folder("notebooks").glob("*.ipynb"))
PICTURES = os.environ.get("PALEA_PICTURES")  # a folder: pictures of each panel are kept there, to be looked at
STAMP = Stamp("sorrel", "2025-03-12T09:00:00+00:00")
SIDEWAYS = """() => [document.documentElement, ...document.querySelectorAll('.palea-panel')]
  .map(e => e.scrollWidth - e.clientWidth)"""
# Texts of labels, buttons and choices that are wider than their box.
CLIPPED = """() => [...document.querySelectorAll('.palea-panel :is(label, button, summary, h2, h3, th)')]
  .filter(e => e.checkVisibility() && e.scrollWidth > e.clientWidth + 1 && getComputedStyle(e).display !== 'inline')
  .map(e => e.textContent.trim())"""
UNNAMED = """() => [...document.querySelectorAll('.palea-panel :is(input, select, textarea, button)')]
  .filter(e => e.checkVisibility() && !(e.labels?.length || e.getAttribute('aria-label') || e.textContent.trim()))
  .map(e => e.outerHTML.slice(0, 120))"""


def picture(page, name):
    """A picture of each panel, where somebody wants to look."""
    if PICTURES:
        Path(PICTURES).mkdir(parents=True, exist_ok=True)
        for n, panel in enumerate(page.locator(".jp-OutputArea-output > .palea-panel").all(), 1):
            panel.screenshot(path=f"{PICTURES}/{name}-{n}.png")


@pytest.fixture
def small(tmp_path):
    """Folder of a package with a person, a species and a bag of seed: enough for every panel to show its boxes."""
    place = tmp_path / "small"
    new_package(place, "Small (invented)", STAMP)
    package = palea.open_package(place)
    rows = {
        "people": {"person_id": "sorrel", "kind": "person", "name": "B. Sorrel (invented)", "consent_to_publish": True},
        "taxa": {"taxon_id": "AV", "scientific_name": "Anthyllis vulneraria", "place_sensitivity": "none"},
        "lots": {"lot_id": "AV-1", "taxon_id": "AV", "seed_unit": "legume", "source_kind": "purchased", "status": "in use"},
        "movements": {"movement_id": "m1", "lot_id": "AV-1", "moved_at": "2025-03-01", "kind": "received", "mass_g": 100.0},
    }  # fmt: skip
    for table, row in rows.items():
        package = package.having(table, [row])
    saving.save(package, STAMP, "entry")
    return place


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda p: p.stem)
def test_a_notebook_runs_and_every_box_is_named_and_nothing_is_clipped(run_notebook, small, theme, faint, path):
    page, _, passed = run_notebook(path, small)
    assert passed is True
    expect(page.locator(".palea-panel").first).to_be_visible()
    for name in ("JupyterLab Light", "JupyterLab Dark"):
        theme(name)
        assert max(page.evaluate(SIDEWAYS)) <= 0, "nothing scrolls sideways at 1280 px"
        assert page.evaluate(CLIPPED) == []
        assert page.evaluate(UNNAMED) == []
        assert faint() == []
        picture(page, f"{path.stem}-{name.split()[-1].lower()}")


def test_a_lot_is_received_by_keyboard_alone(run_notebook, small):
    page, package, _ = run_notebook(shipped.folder("notebooks") / "01_lots.ipynb", small)
    form = page.locator(".palea-form").first
    form.get_by_label("Kind of plant", exact=True).focus()
    for text in ("Anth", None, "legu"):  # a letter or two chooses in a list; Enter goes on
        if text:
            page.keyboard.type(text)
        page.keyboard.press("Enter")
    expect(form.get_by_label("Id", exact=True)).to_have_value("AV-2")
    form.get_by_label("Mass, g", exact=True).fill("1800,5")
    form.get_by_label("Mother plants", exact=True).fill("many")
    expect(form).to_contain_text("“many” is not a")
    form.get_by_label("Mother plants", exact=True).fill("340")
    expect(form).not_to_contain_text("“many” is not a")
    form.get_by_label("Where it comes from", exact=True).select_option("wild harvest")
    box = form.get_by_label("Mass, g", exact=True)
    box.press("Control+Enter")  # with the last letter still on its way
    expect(page.locator(".palea-status").first).to_contain_text("Not saved")
    for label in form.locator(".palea-must").all_inner_texts():
        field = form.get_by_label(label, exact=True).first
        if field.evaluate("e => e.tagName") == "SELECT" and not field.input_value():
            field.select_option(index=1)
        elif not field.input_value():
            field.fill("2025-03-02")
    box.press("Control+Enter")
    expect(page.locator(".palea-status").first).to_contain_text("Saved", timeout=60_000)
    saved = palea.open_package(package)
    assert saved["lots"].iloc[-1]["lot_id"] == "AV-2"
    assert saved["movements"].iloc[-1]["mass_g"] == 1800.5


def test_a_run_survives_a_dead_kernel(run_notebook, restart, page, lab, tmp_path):
    """Steps are ticked, the kernel is killed, the notebook run anew: the run stands where it was left."""
    page, package, passed = run_notebook(shipped.folder("notebooks") / "04_coating.ipynb")
    assert passed is True
    panel = page.locator(".palea-panel").nth(1)
    panel.get_by_label("Procedure", exact=True).select_option(label="Film of 5 % (film, version 1)")
    expect(panel).to_contain_text("Step 1 of 11", timeout=60_000)
    form = panel.locator(".palea-form").first
    form.get_by_label("Lot", exact=True).select_option("AV-T03-1")
    form.get_by_label("Mass, g", exact=True).fill("15")
    form.get_by_label("Risk assessment", exact=True).fill("RA-05")
    panel.get_by_label("Risk assessment and data sheets were read today").check()
    for step in (2, 3):
        panel.get_by_role("button", name="As planned", exact=True).click()
        expect(panel).to_contain_text(f"Step {step} of 11", timeout=60_000)
    panel.get_by_label("What was seen", exact=True).fill("half typed")
    draft = package / "drafts"
    deadline = time.time() + 30
    while time.time() < deadline and not any("half typed" in p.read_text(encoding="utf-8") for p in draft.glob("*.json")):
        time.sleep(0.1)
    _kill_kernels(package.parent)
    assert restart() is True
    panel = page.locator(".palea-panel").nth(1)
    expect(panel).to_contain_text("is under way: it stands where it was left, 2 steps done", timeout=60_000)
    expect(panel.get_by_label("What was seen", exact=True)).to_have_value("half typed")
    picture(page, "coating-after-a-dead-kernel")


def test_nothing_reported_is_lost_with_the_page_or_the_server(lab, other_server, open_anew, small):
    """A page is closed and opened again; then the server is killed and another one takes its place."""
    (url, root), (doomed, server) = lab, other_server
    folder, name = root / "killed", "lots.ipynb"
    folder.mkdir()
    cell = nbformat.v4.new_code_cell("import palea\npalea.panels.lots(palea.open_package('palea-demo'))")
    python = {"kernelspec": {"name": "python3", "display_name": "Python 3", "language": "python"}}
    nbformat.write(nbformat.v4.new_notebook(cells=[cell], metadata=python), folder / name)
    drafts = shutil.copytree(small, folder / "palea-demo") / "drafts"
    page = open_anew(doomed, folder.name, name)
    _type(page, "Mother plants", "340", drafts)
    page = open_anew(doomed, folder.name, name)
    expect(_box(page, "Mother plants")).to_have_value("340")
    _type(page, "Place", "Hollow Sands", drafts)
    server.kill()  # SIGKILL: no farewell
    server.wait(20)
    _box(page, "Permit").fill("typed into the void")
    expect(page.locator(".palea-form + .palea-alarm").first).to_contain_text("Not kept yet", timeout=15_000)
    page = open_anew(url, folder.name, name)
    assert [_box(page, label).input_value() for label in ("Mother plants", "Place", "Permit")] == ["340", "Hollow Sands", ""]
    expect(page.locator(".palea-status").first).to_contain_text("back from the draft")


def _box(page, label):
    return page.locator(".palea-form").first.get_by_label(label, exact=True)


def _type(page, label, text, drafts):
    """Type, and wait until it is on disk."""
    _box(page, label).fill(text)
    deadline = time.time() + 30
    while time.time() < deadline and not any(text in p.read_text(encoding="utf-8") for p in drafts.glob("*.json")):
        time.sleep(0.05)


def _kill_kernels(place):
    """SIGKILL for every kernel that works in a folder, as a power cut would end it."""
    found = subprocess.run(["pgrep", "-f", "ipykernel_launcher"], capture_output=True, text=True, check=False).stdout.split()
    mine = [int(p) for p in found if Path(f"/proc/{p}/cwd").exists() and Path(f"/proc/{p}/cwd").resolve() == place.resolve()]
    assert mine, "a kernel was running"
    for process in mine:
        os.kill(process, signal.SIGKILL)
