"""What the schema says is said there alone: no list of its words, no unit and no label is written again in Python."""

import ast
from pathlib import Path

import pytest

from palea import schema

KIT = Path(__file__).resolve().parents[2] / "kit" / "palea"
FEWEST = 3  # fewer words together are a choice, not a list
# The list `about` is made of names of tables, which code may use as it uses any name of the schema.
LISTS = {v.name: frozenset(v.words) for v in schema.vocabularies().values() if v.name != "about"}
FIELDS = [f for t in schema.tables().values() for f in t.fields.values()]
# A title of one word ("Name", "Count") is a word of the language; one of several is the schema's.
TITLES = frozenset(f.title for f in FIELDS if " " in f.title)
# "d" and "%" are letters and signs of many uses; these are units and nothing else.
UNITS = frozenset(u for u in schema.words("unit") if "/" in u or "{" in u or u in {"Cel", "MPa", "bit"})

# What may stand, and why. A file may repeat what is named here and nothing else.
MAY = {
    "calc/terms.py": {"*": "the words that code branches on; a test holds them equal to the lists"},
    "checks/field/standing.py": {"outcome": "the examples of a rule are small packages"},
    "checks/field/weather.py": {"Cel": "the examples of a rule are small packages"},
    "checks/planning/contrasts.py": {"mg/kg": "the examples of a rule are small packages"},
    "derived/mapped.py": {"asks_about": "each factor is derived in a way of its own, so each has its column"},
    "derived/factors.py": {"asks_about": "each factor is derived in a way of its own, so each has its line of code"},
    "record/steps.py": {"step_action": "participles that a rule of English would get wrong; grammar, not meaning"},
}
# Calculations are pure and do not read the schema; they must say which quantity a number is, and in which unit.
OF_CALC = {"quantity", "unit", *UNITS}
BRANCH = (ast.Name, ast.Lambda, ast.Call)
INVENTED = "demo"  # rows of the invented demo are written in the schema's words, as any package is


def collections(tree):
    """(line, texts) of every literal list, tuple, set or mapping of texts; keys and values of a mapping apart.

    A mapping from words to functions is a branch in the code, not a list, so its keys are passed over.
    """
    for node in ast.walk(tree):
        if isinstance(node, ast.List | ast.Tuple | ast.Set):
            yield node.lineno, node.elts
        elif isinstance(node, ast.Dict) and not all(isinstance(v, BRANCH) for v in node.values):
            yield node.lineno, node.keys
            yield node.lineno, node.values


def repeated(text):
    """What a module says again: {(line, name of the list, or the unit or title itself)}."""
    tree = ast.parse(text)
    found = set()
    for line, nodes in collections(tree):
        texts = [n.value for n in nodes if isinstance(n, ast.Constant) and isinstance(n.value, str)]
        if len(texts) == len(nodes) and len(set(texts)) >= FEWEST:
            found |= {(line, name) for name, words in LISTS.items() if set(texts) <= words}
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and node.value in TITLES | UNITS:
            found.add((node.lineno, node.value))
    return found


@pytest.mark.parametrize("module", sorted(KIT.rglob("*.py")), ids=lambda m: str(m.relative_to(KIT)))
def test_a_module_repeats_nothing_of_the_schema(module):
    relative = module.relative_to(KIT)
    allowed = {"*": ""} if relative.parts[0] == INVENTED else MAY.get(relative.as_posix(), {})
    allowed = {*allowed, *(OF_CALC if relative.parts[0] == "calc" else ())}
    found = repeated(module.read_text(encoding="utf-8"))
    again = sorted((line, what) for line, what in found if not {what, "*"} & allowed)
    assert not again, f"ask palea.schema for it (words, a property of a word, a field's title or unit): {again}"


@pytest.mark.parametrize(("text", "what"), [
    ('KINDS = ("clean", "coat", "soak")', "run_kind"),
    ('KINDS = ["clean", "coat", "soak", "dry"]', "run_kind"),
    ('x = frame["kind"].isin({"clean", "coat", "soak"})', "run_kind"),
    ('SAID = {"better": "good", "worse": "bad", "not shown": "unclear"}', "verdict"),
    ('BACK = {"a": "normal", "b": "abnormal", "c": "dead"}', "outcome"),
    ('label = "Water content"', "Water content"),
    ('unit = "mg/kg"', "mg/kg"),
])
def test_a_repetition_is_found(text, what):
    assert what in {name for _, name in repeated(text)}


@pytest.mark.parametrize("text", [
    'kinds = ("clean", "coat")',
    'names = ("run_id", "kind", "mass_g")',
    'say = {"better": good, "worse": bad, "not shown": open_}',
    'counts["outcome"].isin(schema.words("outcome", germinated=True))',
    'mixed = ("clean", "coat", "nothing of the kind")',
])
def test_what_is_no_repetition_passes(text):
    assert not repeated(text)


def test_what_may_stand_is_still_there():
    """A file or list that is gone may not stay on the list of what may stand."""
    assert not [path for path in MAY if not (KIT / path).is_file()]
    assert not [name for path in MAY.values() for name in path if name not in {"*", *LISTS, *UNITS, *TITLES}]
