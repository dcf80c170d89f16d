"""The house keeps its own rules: imports, names, sizes, style, what the top level holds, what notebooks may hold."""

import ast
import json
import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
KIT = ROOT / "kit" / "palea"
MODULES = sorted(KIT.rglob("*.py"))
TOP = {
    "README.md",
    "DEVELOPERS.md",
    "pyproject.toml",
    "schema",
    "kit",
    "notebooks",
    "tests",
    "datapackages_demo",
    "LICENSE",
    "CITATION.cff",
}


def test_imports_point_backwards():
    # In a process of its own: import-linter sets up logging anew, which silences the loggers of other tests.
    code = "from importlinter import cli; raise SystemExit(cli.lint_imports(config_filename='pyproject.toml', no_cache=True))"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout[-4000:]
    assert "0 broken" in done.stdout


def test_ruff_has_nothing_to_say():
    done = subprocess.run(
        [sys.executable, "-m", "ruff", "check", "--no-cache", "kit", "tests"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout[-4000:]


def test_the_top_level_is_what_was_agreed():
    tracked = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False).stdout.split(
        "\n"
    )
    if not any(tracked):
        pytest.skip("this is no git checkout, so nothing says which files belong to the project")
    tops = {line.split("/")[0].strip('"') for line in tracked if line}
    assert {t for t in tops if not t.startswith(".")} == TOP


def test_no_room_without_a_purpose():
    vague = {"utils", "util", "helpers", "helper", "common", "misc"}
    assert not [m for m in MODULES if m.stem in vague or vague & set(m.parts)]


@pytest.mark.parametrize("module", MODULES, ids=lambda m: str(m.relative_to(KIT)))
def test_a_module_says_what_it_is_for_and_stays_readable(module):
    text = module.read_text(encoding="utf-8")
    assert text.count("\n") <= 350, "past 350 lines a file becomes a folder"
    assert ast.get_docstring(ast.parse(text)), "a module opens by saying what it is for"


def test_notebooks_hold_no_functions_and_no_outputs():
    notebooks = sorted((ROOT / "notebooks").glob("*.ipynb"))
    assert notebooks
    for path in notebooks:
        cells = json.loads(path.read_text(encoding="utf-8"))["cells"]
        code = [c for c in cells if c["cell_type"] == "code"]
        assert not [c for c in code if c["outputs"] or c["execution_count"]], path.name
        for cell in code:
            tree = ast.parse("".join(cell["source"]))
            assert not [n for n in ast.walk(tree) if isinstance(n, ast.FunctionDef | ast.ClassDef | ast.Lambda)], (
                path.name
            )


def test_what_the_check_reaches_waits_for_no_heavy_library():
    """`palea check` starts fast: no scipy.stats, statsmodels or altair behind it."""
    code = "import palea.checks.run, palea.tables.validate, palea.tables.journal, palea.checks.checklist"
    done = subprocess.run([sys.executable, "-X", "importtime", "-c", code], capture_output=True, text=True, check=True)
    heavy = {"scipy.stats", "statsmodels", "altair", "ipywidgets", "jupyterlab"}
    reached = {line.rsplit("|", 1)[-1].strip() for line in done.stderr.splitlines()}
    assert not heavy & reached


def test_help_waits_for_nothing():
    done = subprocess.run(
        [sys.executable, "-X", "importtime", "-m", "palea", "--help"], capture_output=True, text=True, check=True
    )
    reached = {line.rsplit("|", 1)[-1].strip() for line in done.stderr.splitlines()}
    assert not {"pandas", "numpy", "scipy", "pyarrow"} & reached


def test_the_clock_is_read_in_one_place():
    clocks = re.compile(r"datetime\.now|time\.time\(|date\.today|utcnow")
    assert [m.name for m in MODULES if clocks.search(m.read_text(encoding="utf-8"))] == ["stamp.py"]


def test_constraints_name_no_address():
    text = (ROOT / "kit" / "constraints.txt").read_text(encoding="utf-8")
    assert not re.search(r"https?:|file:|@ ", text)
    assert all(re.fullmatch(r"[A-Za-z0-9._-]+==[A-Za-z0-9.+!_-]+", line) for line in text.split())


def test_no_rule_and_no_recipe_is_left_off_the_lists():
    """A stage module that nobody lists would never run, and nothing else would notice."""
    from palea.analyses import catalogue
    from palea.checks import run

    for room, listed, marks in (("checks", run.STAGES, "RULES = ("), ("analyses", catalogue.STAGES, "RECIPES = (")):
        files = [*(KIT / room).glob("*.py"), *(KIT / room).glob("*/__init__.py")]  # a stage is a file, or a folder
        found = [m for m in files if f"\n{marks}" in m.read_text(encoding="utf-8")]
        holding = {m.parent.name if m.name == "__init__.py" else m.stem for m in found}
        assert holding - {"run", "catalogue"} == {m.__name__.rsplit(".", 1)[-1] for m in listed}


def test_the_schema_says_its_version_once():
    schema = ROOT / "schema"
    version = (schema / "VERSION").read_text(encoding="utf-8").strip()
    assert f":{version}:" in json.loads((schema / "palea-profile.json").read_text(encoding="utf-8"))["$id"]
    assert f"\n## {version}\n" in (schema / "CHANGELOG.md").read_text(encoding="utf-8")


def test_the_version_is_said_once():
    import palea

    project = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    citation = (ROOT / "CITATION.cff").read_text(encoding="utf-8")
    assert f'version = "{palea.__version__}"' in project
    assert f"\nversion: {palea.__version__}\n" in citation


def test_the_facade_keeps_its_promises():
    import palea

    rooms = {m.stem for m in KIT.iterdir()}
    for name in palea.__all__:
        assert getattr(palea, name) is not None
        assert name == "panels" or name not in rooms, "a room of that name would take the function's place once imported"
