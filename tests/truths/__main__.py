"""README.md of this folder, a table of all that is held against something outside: `python tests/truths`.

It is made from the tests themselves and needs nothing beside them: what is checked is the name of the test; its source is
its docstring, else the comment above it or above the list of its cases, else the opening of its file; the value is what
stands in pytest.approx or behind ==, with the cases of a parametrised test filled in; and so is the tolerance.
"""

import ast
import importlib.util
import inspect
import re
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np

HERE = Path(__file__).parent
PAGE = HERE / "README.md"
OWN = "test_page.py"  # the test of this page checks no number
SHOWN, LONGEST = 4, 110
DATA = (int, float, str, tuple, list, dict, np.ndarray)
OPENING = """# What palea's numbers are held against

Every calculation is checked against something outside this project: a published value or standard, a worked example,
another library, or arithmetic by hand. {checks} checks with {cases} cases in {files} files; none is ever skipped because
it is slow. Data files and where they come from: [data/SOURCES.md](data/SOURCES.md). Where a source was cited from memory,
it says so. “computed” marks a value that another library gives while the test runs. Checks without a value are laws and
refusals that belong beside the others.

Made by `python tests/truths` from the tests themselves; a test holds it equal to them.
"""


HEAD = "| what | value | source | tolerance | cases | test |\n|---|---|---|---|---|---|"


@dataclass(frozen=True)
class Check:
    """One test: what it checks, values and tolerances, its source, how many cases, where it stands."""

    what: str
    value: str
    source: str
    tolerance: str
    cases: int
    test: str


def page():
    """The whole page as text."""
    found = {path: checks(path) for path in sorted(HERE.glob("test_*.py")) if path.name != OWN}
    every = [check for of_file in found.values() for check in of_file]
    parts = [OPENING.format(checks=len(every), cases=sum(c.cases for c in every), files=len(found))]
    for path, of_file in found.items():
        parts.append(f"## {_title(path)}\n\n{_opening(path)}\n\n{HEAD}" + "".join(map(_line, of_file)))
    return "\n\n".join(parts) + "\n"


def checks(path):
    """The tests of a file, in order -> list of Check."""
    text = path.read_text(encoding="utf-8")
    module, tree = _loaded(path), ast.parse(text)
    above = _comments(text)
    lists = {t.id: node for node in tree.body if isinstance(node, ast.Assign) for t in node.targets if isinstance(t, ast.Name)}
    tests = [node for node in tree.body if isinstance(node, ast.FunctionDef) and node.name.startswith("test_")]
    return [_check(path, node, module, above, lists) for node in tests]


def _check(path, node, module, above, lists):
    marks = [m for m in getattr(getattr(module, node.name), "pytestmark", ()) if m.name == "parametrize"]
    filled, cases = {}, 1
    for mark in marks:
        names = [n.strip() for n in mark.args[0].split(",")] if isinstance(mark.args[0], str) else list(mark.args[0])
        rows = [_row(row, len(names)) for row in mark.args[1]]
        cases *= len(rows)
        filled |= {name: [row[at] for row in rows] for at, name in enumerate(names)}
    values, tolerances = _compared(node, filled, vars(module))
    return Check(
        node.name.removeprefix("test_").replace("_", " "), "; ".join(dict.fromkeys(values)), _source(node, above, lists),
        "; ".join(dict.fromkeys(tolerances)), cases, f"{path.name}:{node.name}",
    )  # fmt: skip


def _row(row, many):
    values = getattr(row, "values", row) if hasattr(row, "marks") else row
    return (values[0],) if many == 1 and hasattr(row, "marks") else (values,) if many == 1 else tuple(values)


def _compared(node, filled, module):
    """Values and tolerances, in the order in which they stand."""
    values, tolerances = [], []
    for each in ast.walk(node):
        if isinstance(each, ast.Call) and ast.unparse(each.func) == "pytest.approx":
            values.append(_value(each.args[0], filled, module))
            given = [ast.unparse(a) for a in each.args[1:]] + [f"{k.arg} {_value(k.value, filled, module)}" for k in each.keywords]
            tolerances.append(", ".join(given) or "rel 1e-06")
        elif isinstance(each, ast.Compare) and isinstance(each.ops[0], ast.Eq) and "approx" not in ast.unparse(each):
            told = _value(each.comparators[0], filled, module)
            if not told.startswith("computed"):
                values.append(told)
                tolerances.append("exact")
    return values, tolerances


def _value(node, filled, module):
    """What stands there, the cases filled in; "computed" where other code makes it while the test runs."""
    names = {n.id for n in ast.walk(node) if isinstance(n, ast.Name)} - {"np"}
    known = all(name in filled or isinstance(module.get(name), DATA) for name in names)
    if not known or any(not ast.unparse(n.func).startswith("np.") for n in ast.walk(node) if isinstance(n, ast.Call)):
        return f"computed: `{_short(ast.unparse(node))}`"
    if not names & set(filled):
        return _short(ast.unparse(node)) if not names else _short(_told(_worked_out(node, module, {})))
    cases = len(next(iter(filled[name] for name in names if name in filled)))
    of_cases = [{name: rows[at] for name, rows in filled.items() if at < len(rows)} for at in range(cases)]
    many = list(dict.fromkeys(_told(_worked_out(node, module, case)) for case in of_cases))
    return ", ".join(map(_short, many[:SHOWN])) + (f", … ({len(many)})" if len(many) > SHOWN else "")


def _worked_out(node, module, case):
    try:
        return eval(compile(ast.Expression(node), "page", "eval"), {**module, **case})
    except (KeyError, IndexError, TypeError, ValueError, AttributeError):
        return ast.unparse(node)


def _told(value):
    if isinstance(value, (float, np.floating)):
        return f"{value:.10g}"
    if isinstance(value, (list, tuple, np.ndarray)):
        return f"({', '.join(map(_told, value))})" if len(value) != 1 else _told(value[0])
    return str(value)


def _short(text):
    return text if len(text) <= LONGEST else text[: LONGEST - 1] + "…"


def _source(node, above, lists):
    """Docstring; else the comment above the test; else the comments of the lists that its cases come from."""
    told = ast.get_docstring(node)
    first = min([node.lineno, *(d.lineno for d in node.decorator_list)])
    used = [lists[n.id] for d in node.decorator_list for n in ast.walk(d) if isinstance(n, ast.Name) and n.id in lists]
    used += [lists[n.id] for n in ast.walk(node) if isinstance(n, ast.Name) and n.id in lists]
    comments = [above.get(first, ""), *(above.get(each.lineno, "") for each in used), *_inside(node, above)]
    return " ".join(dict.fromkeys(filter(None, [told, *([] if told else comments)]))) or "as the file says above"


def _inside(node, above):
    return [text for line, text in above.items() if min([node.lineno, *(d.lineno for d in node.decorator_list)]) < line
            <= node.end_lineno + 1]


def _comments(text):
    """{line below: the comment that stands above it, or at its own end}."""
    found, held = {}, []
    for number, line in enumerate(text.splitlines(), 1):
        stripped = line.strip()
        if stripped.startswith("#"):
            held.append(stripped.lstrip("# "))
            continue
        behind = re.search(r"\s#\s(?!noqa|fmt)(.+?)(?:\s+#\s*(?:fmt|noqa).*)?$", line)
        told = [*held, *([behind[1]] if behind and '"' not in behind[1] else [])]
        if told and stripped:
            found[number] = " ".join(told)
        held = []
    return found


def _loaded(path):
    spec = importlib.util.spec_from_file_location(f"truths_page_{path.stem}", path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def _title(path):
    return path.stem.removeprefix("test_").replace("_", " ").capitalize()


def _opening(path):
    return inspect.cleandoc(ast.get_docstring(ast.parse(path.read_text(encoding="utf-8"))) or "")


def _line(c):
    return f"\n| {' | '.join(map(_cell, (c.what, c.value, c.source, c.tolerance, c.cases, c.test)))} |"


def _cell(value):
    return re.sub(r"\s+", " ", str(value)).replace("|", "\\|").strip()


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
    sys.stderr.write(f"{PAGE}\n")
