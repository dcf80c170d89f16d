"""Pages are read by ear and by keyboard: axe-core finds nothing against them in Chromium, on paper's width and a phone's.

axe-core (MPL-2.0) is not part of this project: CI fetches it into build/axe-core, which is ignored; PALEA_AXE names
another copy. Without one the test is skipped, except in CI, where it fails.
"""

import os
from pathlib import Path

import pytest

from palea.documents import html
from palea.record import bag_page, for_my_batch, letter, methods

pytestmark = pytest.mark.browser
ROOT = Path(__file__).resolve().parents[2]
AXE = Path(os.environ.get("PALEA_AXE", ROOT / "build" / "axe-core" / "package" / "axe.min.js"))
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
FOUND = """tags => axe.run(document, {runOnly: {type: 'tag', values: tags}}).then(found => found.violations.map(
  v => v.id + ': ' + v.nodes.length + ' x ' + v.nodes[0].html.slice(0, 200) + ' | ' + v.nodes[0].failureSummary))"""

TOO_WIDE = """() => [...document.querySelectorAll('table, figure, p, h1, h2, h3')].filter(
  e => !e.closest('.wide') && e.getBoundingClientRect().right > 645).map(e => e.outerHTML.slice(0, 120))"""


@pytest.fixture(scope="module")
def axe():
    if not AXE.is_file():
        if os.environ.get("CI"):
            pytest.fail(f"axe-core is not at {AXE}; .ci/run has to fetch it.")
        pytest.skip(f"axe-core is not at {AXE}; fetch it with npm pack axe-core, or name a copy in PALEA_AXE.")
    return AXE.read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def pages(package):
    return {
        "record": methods.assemble(package),
        "bag": bag_page.assemble(package, "CC-T08-2"),
        "letter": letter.assemble(package, "brackwater"),
        "batch": for_my_batch.assemble(package, "R-CC-T08-1", for_my_batch.Mine(24.0, 0.1, 300.0)),
    }


@pytest.mark.parametrize("width", [1280, 375])
@pytest.mark.parametrize("name", ["record", "bag", "letter", "batch"])
def test_axe_finds_nothing(axe, pages, browser, name, width):
    shown = browser.new_page(viewport={"width": width, "height": 900})
    shown.set_content(html.write(pages[name]))
    shown.evaluate(axe)
    assert shown.evaluate(FOUND, TAGS) == []
    shown.close()


def test_axe_sees_what_is_wrong(axe, browser):
    """The same call on a page without headings, language and text alternatives finds them."""
    shown = browser.new_page()
    shown.set_content("<html><body><h4>deep</h4><img src='data:,'><p style='color:#ddd'>pale</p></body></html>")
    shown.evaluate(axe)
    found = {told.partition(":")[0] for told in shown.evaluate(FOUND, TAGS)}
    shown.close()
    assert {"html-has-lang", "image-alt", "color-contrast", "landmark-one-main"} <= found


@pytest.mark.parametrize("name", ["record", "bag", "letter", "batch"])
def test_no_page_is_wider_than_its_paper(pages, browser, name):
    """What is wider makes the browser print everything smaller. 643 px are the 17 cm between the margins of A4."""
    shown = browser.new_page(viewport={"width": 643, "height": 900})
    shown.emulate_media(media="print")
    shown.set_content(html.write(pages[name]))
    wide = shown.evaluate(TOO_WIDE)
    shown.close()
    assert wide == []


def test_a_bag_page_is_one_sheet(pages, browser):
    shown = browser.new_page()
    shown.set_content(html.write(pages["bag"]))
    paper = shown.pdf(prefer_css_page_size=True)
    shown.close()
    assert b"/Count 1" in paper
