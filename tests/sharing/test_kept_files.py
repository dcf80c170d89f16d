"""Kept answers leave the house whole: what is withheld is taken out of their texts, and not one of their own numbers."""

import json

import pandas as pd
import pytest

from palea.analyses import catalogue
from palea.sharing import kept_files, scrub
from palea.sharing.redact import marked
from palea.sharing.withheld import MARK, Secrets

HIDDEN = Secrets(("Kettle Gate", "Zoë's field"), (2.61437, 52.94821), ids=(("kettle-gate", "site-1"),))
RESULTS = pd.DataFrame({"analysis_id": ["a", "a", "b"], "estimate": [2.6853, 0.5, 2.64], "lower": [-2.6153, None, None]}).reindex(
    columns=["analysis_id", *kept_files.NUMBERS]
)


@pytest.fixture
def told(tmp_path):
    """What is left of a file of the answer “a”, and whether it was changed."""

    def of(name, text):
        path = tmp_path / "analyses" / "a" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
        many = kept_files.without(tmp_path, [f"analyses/a/{name}"], RESULTS, HIDDEN)
        return path.read_text(encoding="utf-8"), bool(many)

    return of


@pytest.mark.parametrize(("sentence", "left"), [
    ("Seed weight 2.69 g (2.62 to 2.74).", "Seed weight 2.69 g (2.62 to 2.74)."),  # rounded from 2.6853 and -2.6153
    ("Seed weight 2.685 g.", "Seed weight 2.685 g."),
    ("Seed weight 2.686 g.", f"Seed weight {MARK} g."),
    ("Seed weight 2.64 g.", "Seed weight 2.64 g."),  # with two decimals only what lies at the place is taken for it
    ("Seed weight 2.640 g.", f"Seed weight {MARK} g."),  # the number of another answer
    ("At Kettle Gate, 52.94821.", f"At {MARK}, {MARK}."),
    ("In kettle-gate.", "In site-1."),
])
def test_a_sentence_keeps_the_numbers_that_its_answer_gives(told, sentence, left):
    assert told("sentences.md", sentence) == (left, sentence != left)


def test_a_chart_stays_a_chart_and_its_texts_are_read_as_they_are_meant(told):
    """Python writes letters beyond ASCII as escapes, in which nobody's name could be found."""
    spec = {"description": "Zoë's field, 52.123", "data": [{"x": 52.94821, "y": 2.614, "at": "Kettle Gate"}], "width": 52.125}
    text, changed = told("figure.json", json.dumps(spec, indent=1))
    assert changed
    assert json.loads(text) == spec | {"description": f"{MARK}, {MARK}", "data": [{"x": 52.94821, "y": 2.614, "at": MARK}]}
    plain = json.dumps({"data": [2.614, 52.94821], "title": "2.69"}, indent=3)
    assert told("figure.json", plain) == (plain, False)


def test_what_is_called_a_chart_and_is_none_is_looked_into_as_a_text(told):
    assert told("figure.json", '{"x": 52.94821, Kettle Gate') == (f'{{"x": {MARK}, {MARK}', True)


def test_of_a_drawing_only_the_texts_are_looked_into(told):
    drawing = (
        '<svg viewBox="0 0 52.123 2.614"><path transform="translate(2.614,52.94)" d="M2.614,0L52.94821,1" stroke-width="2.615"/>'
        '<g aria-label="Y-axis for a linear scale with values from 0 to 2.615"><text x="2.614">2.610</text></g>'
        '<g aria-label="{}"><text font-size="12px">{}</text></g></svg>'
    )
    assert told("figure.svg", drawing.format("thrift, 2.69 g", "bare")) == (drawing.format("thrift, 2.69 g", "bare"), False)
    said = drawing.format("Kettle Gate, 52.94821", "seed of kettle gate at 52.123")
    assert told("figure.svg", said) == (drawing.format(f"{MARK}, {MARK}", f"seed of {MARK} at {MARK}"), True)
    hidden_in_it = '<path d="M1,2Z" x="Kettle Gate" width="3"/>'
    assert told("figure.svg", hidden_in_it) == (f'<path d="M1,2Z" x="{MARK}" width="3"/>', True)


def test_options_stay_json_and_a_reason_keeps_the_numbers_of_its_answer(small):
    """In another answer the same number is taken for the place that it lies near."""
    said = "The interval begins at 2.615, by Kettle Gate."
    rows = [{"analysis_id": of, "result_no": 1, "quantity": "germinated", "lower": lower, "reason": said}
            for of, lower in (("a", 2.6153), ("b", 1.0))]  # fmt: skip
    options = {"margin": 2.615, "at": 52.948, "of": "Kettle Gate"}
    package = small.having("results", rows).having("analyses", [{"analysis_id": "a", "options": json.dumps(options)}])
    fit, changed = scrub.scrubbed(package, HIDDEN)
    assert fit["results"]["reason"].iloc[-2:].tolist() == [
        f"The interval begins at 2.615, by {MARK}.", f"The interval begins at {MARK}, by {MARK}.",
    ]  # fmt: skip
    assert json.loads(fit["analyses"]["options"].iloc[-1]) == options | {"of": MARK}
    assert changed == scrub.scrubbed(small, HIDDEN)[1] + 3


def test_no_answer_rests_on_a_place():
    """So no number of a chart can be one."""
    places = {(t, c) for t in ("lots", "sites") for c in marked(t, "blur") if c.endswith("itude")}
    assert len(places) == 4
    read = {(table, column) for recipe in catalogue.RECIPES for table, columns in recipe.columns.items() for column in columns}
    assert not places & read
