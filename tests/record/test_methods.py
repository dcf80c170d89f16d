"""The methods record as a whole: every gap shows, nothing leaks, and the same package gives the same bytes."""

import html as escapes
import re
from html.parser import HTMLParser

import pytest

from palea.documents import html, markdown, page
from palea.documents.page import Emphasis, Listing, Note, Paragraph, Part, Photograph, Picture, gaps, said, walk
from palea.errors import PaleaError
from palea.record import kept, methods, precautions, results
from palea.record.story import Story, open_cells
from palea.stamp import Stamp
from palea.tables.beginning import new_package

VOID = {"meta", "br", "img"}


class Tree(HTMLParser):
    """Elements with their attributes; fails where they do not nest."""

    def __init__(self, text):
        super().__init__()
        self.open, self.found = [], []
        self.feed(text)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag, attributes):
        self.found.append((tag, dict(attributes)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attributes):
        self.found.append((tag, dict(attributes)))

    def handle_endtag(self, tag):
        assert self.open
        assert self.open.pop() == tag


@pytest.fixture(scope="module")
def whole(package, stamp):
    return methods.assemble(package, stamp)


@pytest.fixture(scope="module")
def written(whole):
    return html.write(whole)


def test_the_record_holds_its_parts_in_order(whole):
    headings = [part.heading for part in whole.children if isinstance(part, Part)]
    assert headings == [
        "Abstract",
        "Materials and methods",
        "Results",
        "Planned and done",
        "What is not reported",
        "Data, licence and citation",
        "Software",
        "References",
        "Appendix",
    ]
    methods_part = next(part for part in whole.children if isinstance(part, Part) and part.anchor == "methods")
    assert [part.heading for part in methods_part.children] == [
        "Seed lots",
        "Materials, preparations and equipment",
        "Hazards and precautions",
        "Cleaning",
        "Coating, soaking and handling",
        "Trials",
    ]
    trials = [part.heading.partition(".")[0] for part in methods_part.children[-1].children if isinstance(part, Part)]
    assert trials == ["G1", "G2", "G3", "G5", "H1", "F1", "F2"]


def test_html_is_well_formed_and_its_links_lead_somewhere(written):
    tree = Tree(written)
    ids = [attributes["id"] for _, attributes in tree.found if "id" in attributes]
    assert len(ids) == len(set(ids))
    assert {a["href"][1:] for tag, a in tree.found if tag == "a"} <= set(ids)


def test_nothing_outside_is_asked_for_and_nothing_runs(written):
    tree = Tree(written)
    assert not {tag for tag, _ in tree.found} & {"script", "link", "iframe", "object", "embed", "image", "use"}
    assert not [k for _, attributes in tree.found for k in attributes if k.startswith("on") or k == "xlink:href"]
    assert all(a["src"].startswith("data:image/") for tag, a in tree.found if tag == "img")
    assert all(a["href"].startswith("#") for tag, a in tree.found if tag == "a")


def test_every_figure_is_told_in_words(whole, written):
    pictures = [thing for thing in walk(whole.children) if isinstance(thing, Picture)]
    assert [picture.anchor for picture in pictures] == ["figure-G1", "attachments-F1-map", "attachments-F2-map"]
    assert "CC-T06 against CC-T03 +1 point (-6 to +8)" in pictures[0].alternative
    assert [a["aria-label"] for tag, a in Tree(written).found if tag == "svg"] == [p.alternative for p in pictures]
    photographs = [thing for thing in walk(whole.children) if isinstance(thing, Photograph)]
    assert [a["alt"] for tag, a in Tree(written).found if tag == "img"] == [p.alternative for p in photographs]
    assert len(photographs) == 1


def test_two_runs_give_the_same_bytes(package, stamp, written):
    assert html.write(methods.assemble(package, stamp)) == written


def test_the_record_knows_no_other_moment_than_its_stamp(package, quick, stamp):
    early, late = (
        html.write(methods.assemble(package, Stamp("A. Fennel", when)))
        for when in ("2024-03-12T10:00:00+00:00", "2025-01-01T10:00:00+00:00")
    )
    assert early.replace("2024-03-12 by", "2025-01-01 by") == late


def test_markdown_says_the_same_sentences(whole):
    plain = re.sub(r"<a id=[^>]*></a>|\]\(#[^)]*\)|[\\*`\[\]]", "", markdown.write(whole))
    told = " ".join(plain.split())
    for thing in walk(whole.children):
        if isinstance(thing, Paragraph):
            words = " ".join(re.sub(r"[\\*`\[\]]", "", said(thing.runs)).split())
            assert escapes.unescape(words) in told


# One cell of each kind that the record must not pass over: table, key, column.
CELLS = [
    ("lots", {"lot_id": "CC-0"}, "mother_plants"),
    ("lots", {"lot_id": "CC-0"}, "collected_from"),
    ("lots", {"lot_id": "CC-0"}, "country"),
    ("lots", {"lot_id": "CC-0"}, "source_kind"),
    ("lots", {"lot_id": "CC-0"}, "prior_treatment"),
    ("taxa", {"taxon_id": "CC"}, "identified_by"),
    ("materials", {"material_id": "kaolin"}, "hazards"),
    ("runs", {"run_id": "R-CC-T05-2"}, "room_c"),
    ("runs", {"run_id": "R-CC-T05-2"}, "risk_assessment"),
    ("runs", {"run_id": "R-CC-T03-1"}, "hands_on_min"),
    ("runs", {"run_id": "R-CC-T09-1"}, "asked_for"),
    ("run_steps", {"run_id": "R-CC-T03-2", "step": 3}, "duration_s"),
    ("trials", {"trial_id": "G1"}, "design"),
    ("trials", {"trial_id": "G1"}, "germinated_when"),
    ("environments", {"environment_id": "G1-20-10"}, "substrate"),
    ("environments", {"environment_id": "G1-20-10"}, "light_hours"),
    ("environments", {"environment_id": "G1-20-10"}, "moved_about"),
    ("visits", {"visit_id": "G1-D10"}, "blind"),
]


@pytest.mark.parametrize(("table", "key", "column"), CELLS, ids=lambda x: x if isinstance(x, str) else "")
def test_one_value_less_is_exactly_one_gap_more(package, plain_gaps, quick, table, key, column):
    frame = package[table]
    for name, value in key.items():
        frame = frame[frame[name].eq(value)]
    assert len(frame) == 1
    assert frame[column].notna().all()
    before = plain_gaps
    without = methods.assemble(package.having(table, [key | {column: None}]), figures=False)
    more = [gap for gap in gaps(without) if gap not in before]
    assert len(gaps(without)) == len(before) + 1
    assert [open_cells(gap.anchor) for gap in more] == [(table, (int(frame.index[0]) + 2,), column)]
    assert more[0].anchor in page.anchors(without)


def test_a_cas_number_is_asked_of_those_materials_of_which_the_checklist_asks_it(soaked, quick):
    before = gaps(methods.assemble(soaked))
    for key, more in (("ga3", ["[not recorded: CAS number, ga3]"]), ("kaolin", [])):
        assert soaked["materials"].set_index("material_id")["cas"].notna()[key]
        after = gaps(methods.assemble(soaked.having("materials", [{"material_id": key, "cas": None}])))
        assert [gap.text for gap in after if gap not in before] == more


def test_a_place_that_may_be_printed_and_is_blank_is_a_gap(soaked, quick):
    assert soaked["taxa"]["place_sensitivity"].tolist() == ["none"]
    before, after = (
        gaps(methods.assemble(p)) for p in (soaked, soaked.having("lots", [{"lot_id": "AM-0", "place": None}]))
    )
    assert [gap.text for gap in after if gap not in before] == ["[not recorded: place, AM-0]"]


@pytest.mark.parametrize("action", ["wet", "powder", "tumble", "dry", "screen"])
def test_each_thing_that_a_step_must_say_is_a_gap_where_it_is_blank(package, plain_gaps, quick, action):
    from palea import schema

    steps = package["run_steps"]
    row = steps[steps["run_id"].eq("R-CC-T06-3") & steps["action"].eq(action)].iloc[0]
    asked = [c for c in schema.word("step_action", action)["asks"] if c != "material_id" and row.notna()[c]]
    assert asked
    before = len(plain_gaps)
    for column in asked:
        one = package.having("run_steps", [{"run_id": row["run_id"], "step": row["step"], column: None}])
        assert len(gaps(methods.assemble(one, figures=False))) == before + 1, column


def test_a_mass_that_was_not_weighed_is_one_gap(package, plain_gaps, quick):
    movements = package["movements"]
    made = movements[
        movements["run_id"].eq("R-CC-T08-2") & movements["kind"].eq("made") & movements["lot_id"].eq("CC-T08-2")
    ]
    assert len(made) == 1
    one = package.having("movements", [{"movement_id": made["movement_id"].iloc[0], "mass_g": None}])
    assert len(gaps(methods.assemble(one, figures=False))) == len(plain_gaps) + 1


def test_a_gap_says_the_reason_that_its_row_gives(package, quick):
    """What does not apply leaves no gap; what is withheld says so."""

    def texts(why):
        row = {"lot_id": "CC-0", "mother_plants": None, "why_blank": f"mother_plants: {why}"}
        return [gap.text for gap in gaps(methods.assemble(package.having("lots", [row]), figures=False))]

    assert "[withheld: mother plants, CC-0]" in texts("withheld")
    assert "[lost: mother plants, CC-0]" in texts("lost")


def test_a_cell_that_does_not_apply_is_no_gap(package, plain_gaps, quick):
    before = len(plain_gaps)
    row = {"run_id": "R-CC-T05-2", "room_c": None, "why_blank": "room_c: not applicable"}
    assert len(gaps(methods.assemble(package.having("runs", [row]), figures=False))) == before


def test_who_withholds_the_recipe_is_named(whole):
    texts = [gap.text for gap in gaps(whole)]
    assert "[withheld by Brackwater Coating Yard (invented): recipe, run R-CC-T09-1]" in texts
    told = " ".join(said(p.runs) for p in walk(whole.children) if isinstance(p, Paragraph))
    assert "An effect belongs to this product, not to coating." in told
    assert "keep-sample of the seed was held back as lot CC-T09-keep" in told


def test_a_sensitive_place_is_not_printed(written, package):
    place = package["lots"].set_index("lot_id")["place"]["CC-0"]
    assert package["taxa"]["place_sensitivity"].tolist() == ["high"]
    assert place not in written
    assert "place withheld at this precision" in written
    open_place = package.having("taxa", [{"taxon_id": "CC", "place_sensitivity": "none"}])
    assert place in html.write(methods.assemble(open_place, figures=False)).replace("&#x27;", "'")


def test_a_permit_number_is_printed_only_where_it_may_be(written, package):
    lots = package["lots"].set_index("lot_id")
    assert not lots["permit_may_share"]["CC-0"]
    assert lots["permit"]["CC-0"] not in written


def test_a_person_without_consent_is_an_id(package, quick):
    people = package["people"].set_index("person_id")["name"]
    (key,) = people.index[people.eq("B. Thrift")]
    hidden = html.write(
        methods.assemble(package.having("people", [{"person_id": key, "consent_to_publish": False}]), figures=False)
    )
    assert "B. Thrift" not in hidden
    assert "B. Thrift" in html.write(methods.assemble(package, figures=False))


def test_invented_data_say_so_first(whole):
    assert isinstance(whole.children[0], Note)
    assert whole.children[0].title == "invented data"


HOSTILE = '<script>alert("x")</script>| ![x](http://example.org) & <img onerror=x>'


def test_hostile_text_stays_text(package, quick):
    hostile = package.having("treatments", [{"treatment_id": "CC-T05", "label": HOSTILE, "purpose": HOSTILE}])
    hostile = hostile.having(
        "lots", [{"lot_id": "CC-0", "prior_treatment": "described", "prior_treatment_text": HOSTILE}]
    )
    hostile = hostile.having("runs", [{"run_id": "R-CC-T05-1", "deviations": HOSTILE}])
    hostile = hostile.having("materials", [{"material_id": "kaolin", "name": HOSTILE, "hazards": HOSTILE}])
    document = methods.assemble(hostile, figures=False)
    tags = {tag for tag, _ in Tree(html.write(document)).found}
    assert "script" not in tags
    assert 'src="x' not in html.write(document)
    text = re.sub(r"`[^`]*`", "", markdown.write(document))
    assert re.findall(r"(?<!\\)<(?!a id=|/a>)", text) == []
    assert re.findall(r"(?<!\\)\]\((?!#)", text) == []


def test_a_hostile_figure_is_not_shown_and_said_so(package, monkeypatch):
    evil = '<!DOCTYPE svg [<!ENTITY a "b">]><svg xmlns="http://www.w3.org/2000/svg"/>'
    monkeypatch.setattr(kept, "COURSE", ".final")
    monkeypatch.setattr(kept, "_file", lambda _s, _k, name: evil if name == "figure.svg" else "")
    part = results.part(Story(package))
    assert [t.anchor for t in walk(part.children) if isinstance(t, Picture)] == ["figure-G1"]
    assert [n.title for n in walk(part.children) if isinstance(n, Note) and "not shown" in n.title]


def test_the_chief_answers_stand_at_the_head(whole, package):
    head = next(part for part in whole.children if isinstance(part, Part))
    told = [said(item) for block in head.children if isinstance(block, Listing) for item in block.items]
    assert told == [
        ("C. canescens, brushed (CC-T03) against cleaned by hand (CC-T02): normal seedlings of filled units"
        " -17 points (95 % interval -24 to -10); 8 batches (32 dishes): worse (C-CC-02).")
    ]


def test_results_hold_sentence_verdicts_table_and_drawing(package):
    (g1, *_) = results.part(Story(package)).children
    assert [type(block).__name__ for block in g1.children][:4] == ["Listing", "Paragraph", "Grid", "Picture"]
    (sentence,) = g1.children[0].items
    kept_ones, _ = kept.sentences(Story(package), "G1-germination.final")
    assert said(sentence).removeprefix("C-CC-02. ") in [s.removeprefix("Primary contrast.").strip() for s in kept_ones]


def test_a_package_without_anything_still_has_a_record(tmp_path, stamp):
    empty = new_package(tmp_path / "empty", "Nothing yet", stamp)
    document = methods.assemble(empty, stamp)
    assert "nobody may reuse" in html.write(document)
    assert "Results" not in [part.heading for part in document.children if isinstance(part, Part)]


def test_acid_and_flame_are_told_with_their_precautions(soaked):
    part = precautions.part(Story(soaked))
    boxes = {note.title: html.write(page.Page("x", (note,))) for note in part.children if isinstance(note, Note)}
    acid = boxes["Acid and other corrosive liquids"]
    assert "Add acid to water" in acid
    assert "H314 Causes severe skin burns and eye damage" in acid
    assert "P280 Wear protective gloves" in acid
    assert "Open flame and fuel gas" in boxes


def test_a_hazard_code_never_stands_without_its_text(soaked):
    text = html.write(page.Page("x", (precautions.part(Story(soaked)),)))
    codes = re.findall(r"\b([HP]\d{3}(?:\+[HP]\d{3})*)\b( .{0,9})?", text)
    assert len(codes) > 20
    assert [code for code, words in codes if not re.match(r" [A-Z(]", words)] == []


def test_nothing_is_called_safe(written):
    assert (
        re.findall(r"\b(?:is|are) safe\b|\bharmless\b", re.sub(r"<style>.*?</style>", "", written, flags=re.DOTALL))
        == []
    )


def test_the_local_risk_assessment_and_the_data_sheet_are_asked_for(soaked):
    (always, *_) = precautions.part(Story(soaked)).children
    text = html.write(page.Page("x", (always,)))
    assert "local risk assessment" in text
    assert "safety data sheet" in text
    assert "trained staff decide" in text


def test_write_takes_several_kinds_of_file_and_overwrites_nothing(package, quick, tmp_path, stamp):
    starts = {"record.html": b"<!DOCTYPE html>", "record.md": b"# Hollowdale journey"}  # .docx: see test_commands
    for name, start in starts.items():
        assert methods.write(package, tmp_path / name, stamp=stamp).read_bytes().startswith(start)
    before = (tmp_path / "record.md").read_bytes()
    with pytest.raises(PaleaError, match="is there already and was left as it is"):
        methods.write(package, tmp_path / "record.md")
    assert (tmp_path / "record.md").read_bytes() == before
    methods.write(package, tmp_path / "record.md", replace=True)
    assert (tmp_path / "record.md").read_bytes() != before  # without a stamp
    with pytest.raises(PaleaError, match=r"ends in “\.pdf”.*\.html, \.md or \.docx"):
        methods.write(package, tmp_path / "record.pdf")
    with pytest.raises(PaleaError, match="cannot be written"):
        methods.write(package, tmp_path / "no" / "such" / "folder.html")


def test_the_species_is_set_apart(whole):
    assert Emphasis("Corynephorus canescens") in list(walk(whole.children))
