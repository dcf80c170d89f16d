"""Whatever somebody sends is opened safely or refused in one or two sentences. The cases are those of standards.md 6.2:
OWASP on path traversal and zip slip, and what was seen to get past frictionless."""

import json
import shutil
import stat
import zipfile

import pytest

from palea.errors import PackageError, UnsafePackage
from palea.tables import unpacking
from palea.tables.opening import open_package


def zipped(folder, target, within=""):
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as archive:
        for path in sorted(p for p in folder.rglob("*") if p.is_file()):
            archive.write(path, within + path.relative_to(folder).as_posix())
    return target


def sentences(error):
    text = str(error.value)
    assert text.endswith(".")
    assert "Traceback" not in text
    return text


@pytest.mark.parametrize("way", ["folder", "descriptor", "zip", "zip with a top folder"])
def test_a_package_opens_every_way(small, tmp_path, way):
    path = {"folder": small.folder, "descriptor": small.folder / "datapackage.json"}.get(way)
    package = open_package(path or zipped(small.folder, tmp_path / "a.zip", "" if way == "zip" else "top/"))
    assert package["counts"]["count"].tolist() == [12, 0, 9, 1]
    assert package.read_only is way.startswith("zip")
    assert package.title == "Two dishes (invented)"


def test_the_unpacked_zip_lives_as_long_as_any_package_made_from_it(small, tmp_path):
    package = open_package(zipped(small.folder, tmp_path / "a.zip"))
    folder, later = package.folder, package.having("taxa", [{"taxon_id": "X", "scientific_name": "X"}])
    del package
    assert len(later["lots"]) == 2
    del later
    assert not folder.exists()


@pytest.mark.parametrize(
    "path",
    [
        "../outside.csv",
        "data/../../outside.csv",
        "/etc/passwd",
        "data\\taxa.csv",
        "C:/taxa.csv",
        "c:taxa.csv",
        "data/ta\0xa.csv",
        ".hidden/taxa.csv",
        "data/.taxa.csv",
        "http://example.org/taxa.csv",
        "https://example.org/a.csv",
        "file:///etc/passwd",
        "ftp://example.org/a",
        "data//taxa.csv",
        "data/./taxa.csv",
        "~/taxa.csv",
        "data/con.csv",
        "NUL",
        "data/COM1.csv",
        "data/taxa.csv.",
        "data /taxa.csv",
        "a" * 500,
        "data/taxa\u202e.csv",
        "",
        7,
    ],
)
@pytest.mark.parametrize("key", ["path", "schema"])
def test_unsafe_paths_are_refused(build, small, path, key):
    if key == "schema" and not isinstance(path, str):
        return
    build.edit(small.folder, lambda raw: raw["resources"][1].update({key: path}))
    with pytest.raises(PackageError) as error:
        open_package(small.folder)
    assert "was not followed" in sentences(error) or "single file" in sentences(error)


@pytest.mark.parametrize("key", ["path", "extrapaths"])
def test_unsafe_paths_in_a_list_are_refused(build, small, key):
    own = {"name": "more", "path": "more.csv", key: ["more.csv", "../outside.csv"]}
    build.edit(small.folder, lambda raw: raw["resources"].append(own))
    with pytest.raises(UnsafePackage, match=r"\.\./outside\.csv.*was not followed"):
        open_package(small.folder)


@pytest.mark.parametrize("link", ["data/taxa.csv", "data", "datapackage.json"])
def test_links_are_refused_wherever_they_lead(small, tmp_path, link):
    target = shutil.move(small.folder / link, tmp_path / "moved")
    (small.folder / link).symlink_to(target)
    with pytest.raises(UnsafePackage, match="link"):
        open_package(small.folder)["taxa"]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "cannot be read as JSON"),
        ("{", "cannot be read as JSON"),
        ("[]", "must hold one JSON object"),
        ("{}", "does not list its files"),
        ('{"resources": [1]}', "does not list its files"),
        ('{"resources": {}}', "does not list its files"),
        ("[" * 100_000, "cannot be read as JSON"),
        ('{"a":' * 60 + "1" + "}" * 60, "nested"),
        ('{"resources": [{"name": "taxa"}]}', "has no single file"),
        ('{"resources": [{"name": "taxa", "path": "data/taxa.csv", "compression": "gz"}]}', "compressed"),
        (" " * 9_000_000, "at most"),
    ],
)
def test_a_broken_descriptor_is_told(tmp_path, text, says):
    (tmp_path / "datapackage.json").write_text(text, encoding="utf-8")
    with pytest.raises(PackageError, match=says) as error:
        open_package(tmp_path)
    sentences(error)


def test_what_is_not_there_is_told(tmp_path):
    with pytest.raises(PackageError, match="There is nothing at"):
        open_package(tmp_path / "no")
    with pytest.raises(PackageError, match=r"There is no datapackage\.json in .*palea new"):
        open_package(tmp_path)
    (tmp_path / "sheet.xlsx").write_bytes(b"PK")
    with pytest.raises(PackageError, match="take-in"):
        open_package(tmp_path / "sheet.xlsx")
    (tmp_path / "sheet.zip").write_bytes(b"PK nothing")
    with pytest.raises(PackageError, match="cannot be unpacked"):
        open_package(tmp_path / "sheet.zip")
    with zipfile.ZipFile(tmp_path / "empty.zip", "w"):
        pass
    with pytest.raises(PackageError, match=r"holds no datapackage\.json"):
        open_package(tmp_path / "empty.zip")


@pytest.mark.parametrize("name", ["../x", "/x", "a/../../x", "a\\x", ".x", "C:x", "con", "x\x07"])
def test_a_zip_that_would_slip_out_is_refused_before_anything_is_written(tmp_path, name, monkeypatch):
    made = []
    monkeypatch.setattr(unpacking.tempfile, "mkdtemp", lambda **k: made.append(k))
    with zipfile.ZipFile(tmp_path / "a.zip", "w") as archive:
        archive.writestr("datapackage.json", json.dumps({"resources": []}))
        archive.writestr(zipfile.ZipInfo(name), "x")
    with pytest.raises(UnsafePackage, match="Nothing was unpacked") as error:
        open_package(tmp_path / "a.zip")
    sentences(error)
    assert made == []


def test_a_link_in_a_zip_is_refused(tmp_path):
    info = zipfile.ZipInfo("data/taxa.csv")
    info.external_attr = (stat.S_IFLNK | 0o777) << 16
    with zipfile.ZipFile(tmp_path / "a.zip", "w") as archive:
        archive.writestr(info, "/etc/passwd")
    with pytest.raises(UnsafePackage, match="a link or a device"):
        open_package(tmp_path / "a.zip")


@pytest.mark.parametrize("names", [("a.csv", "a.csv"), ("a.csv", "A.CSV")])
@pytest.mark.filterwarnings("ignore:Duplicate name")
def test_names_that_are_there_twice_are_refused(tmp_path, names):
    with zipfile.ZipFile(tmp_path / "a.zip", "w") as archive:
        for name in names:
            archive.writestr(name, "x")
    with pytest.raises(UnsafePackage, match="twice"):
        open_package(tmp_path / "a.zip")


def test_bombs_are_refused(tmp_path, monkeypatch):
    with zipfile.ZipFile(tmp_path / "a.zip", "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("data/zeros.csv", b"0" * 20_000_000)
    with pytest.raises(UnsafePackage, match="250 times its size"):
        open_package(tmp_path / "a.zip")
    monkeypatch.setattr(unpacking, "MOST_RATIO", 10**9)
    monkeypatch.setattr(unpacking, "MOST_BYTES", 10**6)
    with pytest.raises(UnsafePackage, match="would unpack to"):
        open_package(tmp_path / "a.zip")
    monkeypatch.setattr(unpacking, "MOST_FILES", 0)
    with pytest.raises(UnsafePackage, match="holds 1 files"):
        open_package(tmp_path / "a.zip")


def test_a_zip_that_lies_about_a_size_is_refused(tmp_path):
    """The size in the list of contents made smaller than the file is."""
    with zipfile.ZipFile(tmp_path / "a.zip", "w") as archive:
        archive.writestr("datapackage.json", b"x" * 1000)
    data = (tmp_path / "a.zip").read_bytes().replace((1000).to_bytes(4, "little"), (10).to_bytes(4, "little"))
    (tmp_path / "a.zip").write_bytes(data)
    with pytest.raises(PackageError, match="does not name"):
        open_package(tmp_path / "a.zip")
