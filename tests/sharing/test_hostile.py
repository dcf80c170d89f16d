"""What strangers send comes to a sentence or does no harm: nothing outside is touched, nothing is fetched, nothing is run."""

import csv
import hashlib
import importlib.util
import json
import re
import shutil
import tempfile
import time
from html.parser import HTMLParser
from pathlib import Path

import pandas as pd
import pytest

import palea
from palea import schema
from palea.errors import PackageError
from palea.sharing.rerun import rerun
from palea.tables import validate
from palea.tables.opening import open_package

_spec = importlib.util.spec_from_file_location("hostile", Path(__file__).with_name("hostile.py"))
hostile = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(hostile)
LONGEST = 10  # seconds for any one of them
pytestmark = pytest.mark.usefixtures("no_way_out")


def state(folder):
    """{path: hash} of everything in a folder; a link counts as what it says."""
    files = [path for path in sorted(folder.rglob("*")) if path.is_symlink() or path.is_file()]
    of = lambda p: str(p.readlink()) if p.is_symlink() else hashlib.sha256(p.read_bytes()).hexdigest()  # noqa: E731 - said once
    return {path.relative_to(folder).as_posix(): of(path) for path in files}


@pytest.fixture
def place(tmp_path, monkeypatch):
    """A folder for what was sent, beside one that must stay as it is; and nothing may be left in the temporary folder."""
    for name in ("outside", "sent", "tmp"):
        (tmp_path / name).mkdir()
    (tmp_path / "outside/kept.txt").write_text("mine\n", encoding="utf-8")
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "tmp"))
    before, began = state(tmp_path / "outside"), time.monotonic()
    yield tmp_path / "sent"
    assert state(tmp_path / "outside") == before
    assert time.monotonic() - began < LONGEST
    assert {path.name for path in tmp_path.iterdir()} == {"outside", "sent", "tmp"}


def is_sentence(text, path):
    """What, where, what to do next: whole sentences that a terminal can show, with the name of the file in them."""
    assert re.fullmatch(r"[^\n]{40,900}[.)]", text), text
    assert text.isprintable()
    assert "Traceback" not in text
    assert path.name in text or "The package names" in text or "The file of lots" in text
    assert text.count(". ") >= 1, f"no advice: {text}"


def reads(path):
    """Open a package and read a table and the journal."""
    package = open_package(path)
    return package["lots"], package.journal()


@pytest.mark.filterwarnings("ignore:Duplicate name")
@pytest.mark.parametrize("name", hostile.ARCHIVES)
def test_a_hostile_archive_comes_to_a_sentence(name, place, kept):
    build, says = hostile.ARCHIVES[name]
    path = build(kept, place)
    with pytest.raises(PackageError, match=says) as told:
        open_package(path)
    is_sentence(str(told.value), path)
    assert list((place.parent / "tmp").iterdir()) == [], "nothing that was unpacked is left"


@pytest.mark.parametrize("name", hostile.HARMLESS)
def test_what_is_odd_but_harmless_opens_and_reads_as_it_is(name, place, kept):
    package = open_package(hostile.HARMLESS[name](kept, place))
    assert package["counts"].equals(open_package(kept)["counts"])
    assert package["results"].equals(open_package(kept)["results"])
    assert not [p for p in package.folder.rglob("*") if p.name in ("bomb.csv", ".palea-kept")], "no zip within a zip is unpacked"


@pytest.mark.parametrize("name", hostile.FOLDERS)
def test_a_hostile_folder_comes_to_a_sentence(name, place, kept):
    build, says = hostile.FOLDERS[name]
    path = build(kept, place)
    before = state(path)
    with pytest.raises(PackageError, match=says) as told:
        reads(path)
    is_sentence(str(told.value), path)
    assert state(path) == before


def test_a_link_beside_an_answer_is_not_followed_when_the_package_is_passed_on(place, kept):
    """Else a file of whoever passes it on would go along under the name of a figure."""
    folder = shutil.copytree(kept, place / "sent")
    (folder / "analyses/G1-germination.final/figure.svg").symlink_to(place.parent / "outside/kept.txt")
    with pytest.raises(PackageError, match="it is a link"):
        palea.share(open_package(folder), place / "on.zip")
    assert not (place / "on.zip").exists()


@pytest.mark.parametrize("name", hostile.FILES)
def test_a_hostile_file_comes_to_a_finding(name, place, kept):
    build, says = hostile.FILES[name]
    path = build(kept, place)
    before = state(path)
    found = [str(f) for f in validate.structure(open_package(path))]
    assert [f for f in found if re.search(says, f)], found
    assert all(len(f) < 1500 and f.isprintable() for f in found), found
    assert state(path) == before


def test_analyses_that_ask_for_odd_things_are_answered_one_by_one(place, kept):
    """Options that are none, a version without end, a recipe that is a path: the others are run again all the same."""
    folder = shutil.copytree(kept, place / "sent")
    with (folder / "data/analyses.csv").open(encoding="utf-8", newline="") as source:
        rows = list(csv.DictReader(source))
    rows += [rows[0] | facts | {"analysis_id": name} for name, (facts, _) in hostile.ANALYSES.items()]
    with (folder / "data/analyses.csv").open("w", encoding="utf-8", newline="") as sink:
        writer = csv.DictWriter(sink, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
    assert palea.check(open_package(folder)) is not None
    found = rerun(folder)
    assert found.count("identical") == len(pd.read_csv(folder / "data/results.csv"))
    answered = {name: found.reasons.get(name, "identical") for name in hostile.ANALYSES}
    assert {n: told for n, told in answered.items() if not re.search(hostile.ANALYSES[n][1], told)} == {}


class Tags(HTMLParser):
    """All tags of a page with their attributes."""

    def __init__(self, text):
        super().__init__()
        self.found = []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.found.append((tag, dict(attrs)))


def is_harmless(page):
    """No script, no event, no address that runs something or fetches it."""
    tags = Tags(page).found
    assert len(tags) > 20
    assert not {tag for tag, _ in tags} & {"script", "iframe", "object", "embed", "foreignobject", "image", "base", "link", "form"}
    told = [(tag, name, value or "") for tag, attrs in tags for name, value in attrs.items()]
    assert not [one for one in told if one[1].startswith("on")]
    leading = [value for _, name, value in told if name in ("href", "src", "xlink:href", "action")]
    assert not [value for value in leading if not value.startswith(("#", "data:image/"))]
    assert not [one for one in told if "url(" in one[2] and "url(#" not in one[2]]


@pytest.fixture(scope="module")
def marked_up(kept, tmp_path_factory):
    """The package with markup in every free text, a script in every drawing, a notebook and a nested archive attached."""
    folder = shutil.copytree(kept, tmp_path_factory.mktemp("marked") / "sent")
    for path in sorted((folder / "data").glob("*.csv")):
        if path.stem not in schema.tables():
            continue
        with path.open(encoding="utf-8", newline="") as source:
            head, *rows = list(csv.reader(source))
        known = schema.table(path.stem).fields
        free = [n for n, name in enumerate(head) if name in known and is_free(known[name])]
        rows = [[hostile.MARKUP + cell if n in free else cell for n, cell in enumerate(row)] for row in rows]
        with path.open("w", encoding="utf-8", newline="") as sink:
            csv.writer(sink, lineterminator="\n").writerows([head, *rows])
    (folder / "files").mkdir()
    files = {"a.svg": hostile.DRAWING, "b.ipynb": hostile.NOTEBOOK, "c.zip": "PK\x03\x04" + "0" * 99, "d.html": hostile.MARKUP}
    shows = hostile.MARKUP.replace('"', '""')
    lines = ["attachment_id,path,sha256,media_type,shows,may_share"]
    for name, data in files.items():
        (folder / "files" / name).write_text(data, encoding="utf-8")
        kind = "image/svg+xml" if name == "a.svg" else "text/html"
        lines.append(f'F{name[0]},files/{name},{hashlib.sha256(data.encode()).hexdigest()},{kind},"{shows}",true')
    (folder / "data/attachments.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    for answer in (folder / "analyses").iterdir():
        (answer / "figure.svg").write_text(hostile.DRAWING, encoding="utf-8")
        chart = {"description": hostile.MARKUP, "data": {"url": "http://example.org"}}
        (answer / "figure.json").write_text(json.dumps(chart), encoding="utf-8")
        (answer / "sentences.md").write_text(hostile.MARKUP, encoding="utf-8")
    (folder / "environment.json").write_text(json.dumps({hostile.MARKUP: hostile.MARKUP, "python": [1]}), encoding="utf-8")
    told = json.loads((folder / "datapackage.json").read_text(encoding="utf-8"))
    told |= {"title": hostile.MARKUP, "description": hostile.MARKUP, "keywords": [hostile.MARKUP]}
    (folder / "datapackage.json").write_text(json.dumps(told), encoding="utf-8")
    return folder


def is_free(field):
    """Whether a column takes any text."""
    return field.type == "string" and not (field.vocabulary or field.constraints or field.parse)


def test_markup_in_every_text_is_shown_as_text_in_the_record(marked_up, tmp_path):
    palea.write_methods(open_package(marked_up), tmp_path / "m.html")
    page = (tmp_path / "m.html").read_text(encoding="utf-8")
    assert page.count("&lt;script&gt;fetch(") > 5
    is_harmless(page)


def test_markup_is_shown_as_text_in_the_comparison(marked_up, tmp_path):
    """And the notebook that lies beside was neither run nor asked for: no other program was started."""
    found = rerun(marked_up)
    found.write(tmp_path / "r.html")
    page = (tmp_path / "r.html").read_text(encoding="utf-8")
    assert "&lt;script&gt;fetch(" in page
    is_harmless(page)
    assert state(marked_up / "files").keys() == {"a.svg", "b.ipynb", "c.zip", "d.html"}
