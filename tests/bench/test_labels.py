"""Labels: what stands on them, and that a reader of codes reads from the printed page what stands beside it."""

import io
import re

import pytest
import vl_convert
import zxingcpp
from PIL import Image

from palea.bench import labels
from palea.errors import PaleaError

NAMESPACED = '<svg xmlns="http://www.w3.org/2000/svg" '  # a page of HTML does without it, a drawing by itself does not


def read_back(page):
    """Texts of the codes of a page, in order: each drawing made into pixels and read by a library that is not ours."""
    found = []
    for svg in re.findall(r"<svg .*?</svg>", page, re.DOTALL):
        picture = Image.open(io.BytesIO(vl_convert.svg_to_png(svg.replace("<svg ", NAMESPACED, 1), scale=3))).convert("RGBA")
        paper = Image.new("RGBA", picture.size, "white")
        paper.alpha_composite(picture)
        found.append([code.text for code in zxingcpp.read_barcodes(paper.convert("L"))])
    return found


def test_labels_of_lots_read_back_as_their_ids(small):
    small = small.having("movements", [
        {"movement_id": "m1", "lot_id": "AV-T01-1", "moved_at": "2025-01-10", "kind": "received", "mass_g": 12.5},
        {"movement_id": "m2", "lot_id": "AV-T01-1", "moved_at": "2025-02-11", "kind": "drawn for test", "mass_g": 2},
        {"movement_id": "m3", "lot_id": "AV-T01-2", "moved_at": "2025-01-10", "kind": "received", "mass_g": 3},
        {"movement_id": "m4", "lot_id": "AV-T01-2", "moved_at": "2025-02-11", "kind": "sent out", "mass_g": 3},
    ])  # fmt: skip
    made = labels.lay_out(small, "lots")
    assert [label.name for label in made] == ["AV-T01-1", "AV-T03-1", "AV-T03-2"]  # AV-T01-2 is used up by the book
    assert made[0].lines == ("Anthyllis vulneraria", "Legume pod", "10.5 g left", "as of 2025-02-11")
    assert "mass not known" in made[1].lines
    page = labels.page(made)
    assert read_back(page) == [[label.name] for label in made]
    assert "<em>Anthyllis vulneraria</em>" in page


def test_labels_of_a_blind_trial_carry_the_code_and_the_place_alone(small):
    made = labels.lay_out(small, "units", trial="G1")
    assert [label.name for label in made[:3]] == ["D05", "D07", "D01"]
    assert made[0].lines == ("G1", "place 1 / 1")
    page = labels.page(made)
    hidden = {*small["units"]["unit_id"], *small["units"]["treatment_id"], *small["units"]["lot_id"]}
    assert not [name for name in hidden if name in page]
    assert read_back(page) == [[label.name] for label in made]


def test_open_labels_say_unit_and_treatment(small):
    made = labels.lay_out(small, "units", trial="G1", blind=False)
    assert (made[0].name, made[0].lines) == ("G1-AV-T01-1-1", ("G1", "AV-T01", "place 1 / 1"))
    assert read_back(labels.page(made[:1])) == [["G1-AV-T01-1-1"]]


def test_a_page_holds_three_by_eight_on_a4():
    page = labels.page([labels.Label(f"L{n}", ("x",)) for n in range(25)])
    first, second = re.findall(r"<section>.*?</section>", page, re.DOTALL)
    assert (first.count("<article>"), second.count("<article>")) == (24, 1)
    assert labels.ACROSS * labels.WIDE_MM == 210
    assert labels.DOWN * labels.HIGH_MM <= 297
    assert "size: A4" in page


@pytest.mark.parametrize("text", ["Ä-1", "a" * 64, "0012", "x<y&z"])
def test_codes_of_odd_identifiers_read_back(text):
    assert read_back(labels.page([labels.Label(text, ())])) == [[text]]


def test_what_cannot_be_labelled_is_said(small, empty):
    with pytest.raises(PaleaError, match="lots or units"):
        labels.lay_out(small, "bags")
    with pytest.raises(PaleaError, match="no trial “X”"):
        labels.lay_out(small, "units", trial="X")
    with pytest.raises(PaleaError, match="no lot holds seed"):
        labels.lay_out(empty, "lots")
    with pytest.raises(PaleaError, match="too long"):
        labels.lay_out(small.having("units", [{"unit_id": small["units"]["unit_id"][0], "code": "x" * 130}]), "units", trial="G1")
