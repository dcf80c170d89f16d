"""Whatever is done to the files of a package, palea says something and never stumbles, and what it calls sound the
reference validator (frictionless 5.21) calls valid."""

import json
import shutil
import tempfile
from pathlib import Path

import frictionless
import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from palea.checks.run import ruled
from palea.errors import PaleaError
from palea.tables import validate
from palea.tables.opening import open_package

TABLES = ("people", "taxa", "lots", "movements", "units", "visits", "counts")
TEXTS = st.sampled_from(
    [
        "",
        " ",
        "0",
        "-1",
        "12",
        "12.0",
        "12.5",
        "1e3",
        "1e999",
        "NaN",
        "INF",
        "-0",
        "+5",
        " 5",
        "5 ",
        "1_000",
        "٣",
        "9" * 30,
        "79,0",
        "1,234.5",
        "ca. 40",
        "true",
        "TRUE",
        "yes",
        "2026",
        "2026-02",
        "2026-02-30",
        "2024-02-29",
        "07/08/2023",
        "2024-02-29T25:00",
        "AV",
        "av",
        "AX",
        "U1",
        "U2",
        "sorrel",
        "normal",
        "normal; abnormal",
        "Normal",
        "seed",
        "received",
        "null",
        "NA",
        '"',
        "a\nb",
        "a\r\nb",
        "a;b",
        "\ufeff",
        "\0",
        "é",
        "=1+1",
        "'",
        "x" * 200,
        "0000-0002-1825-0097",
        "https://orcid.org/0000-0002-1825-0097",
        "https://orcid.org/0000-0002-1825-0098",
        "[]",
        "{}",
        "../x",
        "data/taxa.csv",
        "12 g",
        "1.234,5",
        "45123",
        "11/820",
        "03/04/26",
        "no",
        "n/a",
        "None",
        "x" * 200_000,
        "\u202e",
        "café",
    ]
)
JSON = st.recursive(
    st.none() | st.booleans() | st.integers(-5, 5) | TEXTS,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(TEXTS, inner, max_size=3),
    max_leaves=5,
)
BYTES = st.sampled_from(
    [b"", b"\xef\xbb\xbf", b"\xe9", b"\0", b'"', b"\n", b"\n\n", b"\r", b",", b";", b",,,,\n", b"1"]
)
CHANGES = st.one_of(
    st.tuples(st.just("cell"), st.sampled_from(TABLES), st.integers(0, 9), st.integers(0, 40), TEXTS),
    st.tuples(
        st.just("row"),
        st.sampled_from(TABLES),
        st.integers(0, 9),
        st.sampled_from(["double", "drop", "swap", "blank", "shorten", "lengthen"]),
    ),
    st.tuples(st.just("header"), st.sampled_from(TABLES), st.integers(0, 40), TEXTS),
    st.tuples(st.just("bytes"), st.sampled_from(TABLES), st.integers(0, 400), BYTES),
    st.tuples(st.just("ends"), st.sampled_from(TABLES)),
    st.tuples(
        st.just("encoding"), st.sampled_from(TABLES), st.sampled_from(["utf-16", "utf-16-be", "utf-8-sig", "utf-32"])
    ),
    st.tuples(st.just("latin"), st.sampled_from(TABLES), st.integers(0, 400)),
    st.tuples(st.just("delimiter"), st.sampled_from(TABLES), st.sampled_from([";", "\t", "|"])),
    st.tuples(st.just("above"), st.sampled_from(TABLES), st.sampled_from(["", "Sheet 1", "Where,,What", ",,,", "header"])),
    st.tuples(st.just("whole"), st.sampled_from(TABLES), st.sampled_from([b"", b"PK\x03\x04", b"\n", b"<html>", None])),
    st.tuples(
        st.just("descriptor"),
        st.sampled_from(
            [
                "name",
                "title",
                "resources",
                "licenses",
                "created",
                "version",
                "contributors",
                "palea",
                "schemaVersion",
                "$schema",
                "keywords",
            ]
        ),
        JSON,
    ),
    st.tuples(
        st.just("resource"),
        st.integers(0, 24),
        st.sampled_from(
            [
                "name",
                "path",
                "type",
                "format",
                "encoding",
                "dialect",
                "schema",
                "title",
                "mediatype",
                "hash",
                "bytes",
                "extra",
            ]
        ),
        JSON,
    ),
    st.tuples(
        st.just("schema"),
        st.sampled_from(TABLES),
        st.sampled_from(["fields", "primaryKey", "foreignKeys", "missingValues", "fieldsMatch", "uniqueKeys", "title"]),
        JSON,
    ),
    st.tuples(
        st.just("field"),
        st.sampled_from(TABLES),
        st.integers(0, 40),
        st.sampled_from(
            ["name", "type", "format", "constraints", "title", "missingValues", "bareNumber", "trueValues"]
        ),
        JSON,
    ),
    st.tuples(
        st.just("own"),
        st.sampled_from(TABLES),
        st.sampled_from(["string", "integer", "date", "number", "any", "nonsense"]),
        TEXTS,
    ),
    st.tuples(st.just("profile"), st.sampled_from(["required", "type", "title", "properties", "allOf"]), JSON),
    st.tuples(st.just("journal"), st.integers(0, 3), BYTES),
)


@pytest.fixture(scope="module")
def plain(built, tmp_path_factory):
    """The sound package without hashes, so that every change must be found by what it does."""
    folder = shutil.copytree(built, tmp_path_factory.mktemp("plain") / "plain")
    path = folder / "datapackage.json"
    raw = json.loads(path.read_text(encoding="utf-8"))
    for resource in raw["resources"]:
        del resource["hash"], resource["bytes"]
    path.write_text(json.dumps(raw), encoding="utf-8")
    return folder


def change_json(path, change):
    raw = json.loads(path.read_text(encoding="utf-8"))
    change(raw)
    path.write_text(json.dumps(raw), encoding="utf-8")


def change_lines(path, change):
    lines = path.read_bytes().decode().split("\n")
    change(lines)
    path.write_bytes("\n".join(lines).encode())


def quoted(text):
    return '"' + text.replace('"', '""') + '"' if set(text) & set('",\n\r') else text


def put(lines, number, column, text):
    cells = lines[number].split(",")
    cells[column % len(cells)] = quoted(text)
    lines[number] = ",".join(cells)


def change_row(lines, n, how):
    row = lines[n]
    if how == "swap":
        lines[n], lines[1] = lines[1], row
    else:
        lines[n : n + 1] = {
            "double": [row, row],
            "drop": [],
            "blank": ["", row],
            "shorten": [row.rpartition(",")[0]],
            "lengthen": [row + ",x"],
        }[how]


def in_rows(lines, n, change):
    """Do it to one of the rows after the header, if there is any."""
    if len(lines) > 2:
        change(1 + n % (len(lines) - 2))


def add_own_column(folder, table, kind, text):
    """A column of one's own, described in the travelling schema."""
    change_json(folder / f"schema/{table}.json", lambda raw: raw["fields"].append({"name": "own", "type": kind}))
    cells = {0: "own"}
    change_lines(
        folder / f"data/{table}.csv",
        lambda lines: lines.__setitem__(
            slice(-1), [f"{line},{cells.get(n, quoted(text))}" for n, line in enumerate(lines[:-1])]
        ),
    )


def at(folder, table):
    return folder / f"data/{table}.csv"


def of(folder, table):
    return folder / f"schema/{table}.json"


def insert(path, place, data):
    body = path.read_bytes()
    path.write_bytes(body[:place] + data + body[place:])


def insert_line(path, n, data):
    lines = path.read_bytes().split(b"\n")
    path.write_bytes(b"\n".join([*lines[:n], data, *lines[n:]]))


def put_above(lines, text):
    lines.insert(0, lines[0] if text == "header" else text)


def put_whole(path, data):
    path.unlink() if data is None else path.write_bytes(data)


WAYS = {
    "encoding": lambda f, t, name: at(f, t).write_bytes(at(f, t).read_bytes().decode().encode(name)),
    "latin": lambda f, t, n: insert(at(f, t), n, "ü".encode("latin-1")),
    "delimiter": lambda f, t, sign: at(f, t).write_bytes(at(f, t).read_bytes().replace(b",", sign.encode())),
    "above": lambda f, t, text: change_lines(at(f, t), lambda lines: put_above(lines, text)),
    "whole": lambda f, t, data: put_whole(at(f, t), data),
    "cell": lambda f, t, n, c, text: change_lines(at(f, t), lambda x: in_rows(x, n, lambda i: put(x, i, c, text))),
    "row": lambda f, t, n, how: change_lines(at(f, t), lambda x: in_rows(x, n, lambda i: change_row(x, i, how))),
    "header": lambda f, t, c, text: change_lines(at(f, t), lambda x: put(x, 0, c, text)),
    "bytes": lambda f, t, n, data: insert(at(f, t), n, data),
    "ends": lambda f, t: at(f, t).write_bytes(at(f, t).read_bytes().replace(b"\n", b"\r\n")),
    "descriptor": lambda f, key, value: change_json(f / "datapackage.json", lambda raw: raw.update({key: value})),
    "resource": lambda f, n, key, value: change_json(
        f / "datapackage.json", lambda raw: raw["resources"][n % len(raw["resources"])].update({key: value})
    ),
    "schema": lambda f, t, key, value: change_json(of(f, t), lambda raw: raw.update({key: value})),
    "field": lambda f, t, n, key, value: change_json(
        of(f, t), lambda raw: raw["fields"][n % len(raw["fields"])].update({key: value})
    ),
    "own": add_own_column,
    "profile": lambda f, key, value: change_json(f / "schema/palea-profile.json", lambda raw: raw.update({key: value})),
    "journal": lambda f, n, data: insert_line(f / "journal.jsonl", n, data),
}


def apply(folder, change):
    """Do one thing to the files of a package."""
    kind, *what = change
    WAYS[kind](folder, *what)


def told(folder):
    """The errors that palea finds; its sentence where it refuses the package as a whole."""
    try:
        package = open_package(folder)
        before = {path: path.read_bytes() for path in folder.rglob("*.csv")}
        found = [*validate.structure(package), *ruled(package)]
        assert {path: path.read_bytes() for path in folder.rglob("*.csv")} == before, "a check altered a file"
        assert all(f.message.strip() and f.remedy.strip() for f in found)
        return [f for f in found if f.severity == "error"]
    except PaleaError as error:
        return str(error)


@settings(
    max_examples=80,
    deadline=None,
    derandomize=True,
    phases=(Phase.explicit, Phase.generate),
    suppress_health_check=[HealthCheck.too_slow],
)
@given(changes=st.lists(CHANGES, min_size=1, max_size=2))
def test_nothing_that_palea_calls_sound_is_invalid_outside(plain, changes):
    with tempfile.TemporaryDirectory() as place:
        folder = Path(shutil.copytree(plain, Path(place) / "p"))
        for change in changes:
            try:
                apply(folder, change)
            except (
                ValueError,
                KeyError,
                TypeError,
                IndexError,
                AttributeError,
                FileNotFoundError,
            ):  # an earlier change left nothing to change
                continue
        errors = told(folder)
        if isinstance(errors, str):
            assert errors.endswith(".")
        elif not errors:
            report = frictionless.validate(str(folder / "datapackage.json"))
            assert report.valid, report.flatten(["name", "type", "note"])
