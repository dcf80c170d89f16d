"""A shared package that somebody altered on the way: every byte is under the manifest, and a forged manifest is not enough."""

import hashlib
import json
import random
import shutil
import zipfile

import pytest

import palea
from palea.sharing.archive import write_zip
from palea.sharing.rerun import rerun
from palea.tables import journal, manifest, saving
from palea.tables.opening import open_package

MANY, SEED = 200, 20250412
STAMP = palea.Stamp("thrift", "2025-05-02T09:00:00+00:00")


@pytest.fixture(scope="module")
def unpacked(archive, tmp_path_factory):
    """The shared archive, unpacked by another program."""
    folder = tmp_path_factory.mktemp("mutated") / "shared"
    zipfile.ZipFile(archive).extractall(folder)
    return folder


@pytest.fixture
def shared(unpacked, tmp_path):
    """A copy of it that a forger may work on."""
    return shutil.copytree(unpacked, tmp_path / "shared")


def byte(data, chance):
    """One byte becomes another one."""
    at = chance.randrange(len(data))
    return data[:at] + bytes([data[at] ^ chance.randrange(1, 256)]) + data[at + 1 :]


def on_lines(change):
    """A change of the lines of a file."""

    def changed(data, chance):
        lines = data.splitlines(keepends=True)
        return b"".join(change(lines, chance.randrange(len(lines))))

    return changed


KINDS = (
    byte, byte, byte,
    on_lines(lambda lines, n: lines[:n] + lines[n + 1 :]),
    on_lines(lambda lines, n: [*lines[: n + 1], *lines[n:]]),
    lambda data, chance: data[: chance.randrange(len(data))],
)  # fmt: skip


def files_at_stake(folder):
    """Data, results, journal, kept answers and descriptor, by folder; those with more than a header are drawn more often."""
    data = sorted(path for path in (folder / "data").iterdir() if len(path.read_bytes().splitlines()) > 1)
    named = ("data/results.csv", "data/analyses.csv", "journal.jsonl", "datapackage.json", "environment.json")
    more = [*sorted((folder / "analyses").rglob("*.md")), *sorted((folder / "schema").iterdir())[:2]]
    return [*data, *(folder / name for name in named), *more]


def test_each_of_200_mutations_is_seen_by_the_manifest(shared):
    chance, at_stake, seen = random.Random(SEED), files_at_stake(shared), set()
    for n in range(MANY):
        path = at_stake[n % len(at_stake)]
        sound = path.read_bytes()
        spoilt = chance.choice(KINDS)(sound, chance)
        if spoilt == sound:
            spoilt = sound + b"\n"
        path.write_bytes(spoilt)
        found = manifest.verify(shared)
        assert [f.value for f in found] == [path.relative_to(shared).as_posix()], (n, path)
        path.write_bytes(sound)
        seen.add(path.parent.name)
    assert manifest.verify(shared) == []
    assert seen >= {"data", "schema", "shared", "G1-germination.final"}


@pytest.mark.parametrize("name", ["data/counts.csv", "data/results.csv", "journal.jsonl", "datapackage.json"])
def test_an_archive_that_was_packed_again_is_seen_too(shared, tmp_path, name):
    """The zip's own check sums are those of the altered files, so the zip is sound."""
    chance = random.Random(name)
    path = shared / name
    twice = on_lines(lambda lines, n: [*lines[: n + 1], *lines[n:]])
    sound = path.read_bytes()
    path.write_bytes(sound.replace(b"(invented)", b"(imagined)", 1) if name == "datapackage.json" else twice(sound, chance))
    write_zip(shared, tmp_path / "again.zip")
    assert zipfile.ZipFile(tmp_path / "again.zip").testzip() is None
    opened = open_package(tmp_path / "again.zip")
    assert [f.value for f in manifest.verify(opened.folder)] == [name]


@pytest.mark.parametrize("change", [
    lambda folder: (folder / "data/extra.csv").write_text("a\n1\n"), lambda folder: (folder / "data/lots.csv").unlink(),
    lambda folder: (folder / manifest.NAME).write_bytes((folder / manifest.NAME).read_bytes().replace(b"data/lots", b"data/lost")),
    lambda folder: (folder / manifest.NAME).write_bytes((folder / manifest.NAME).read_bytes().replace(b"\n", b"\x0b", 1)),
], ids=["a file more", "a file less", "another name", "two lines made one"])  # fmt: skip
def test_a_file_more_or_less_and_an_altered_manifest_are_seen(shared, change):
    change(shared)
    assert manifest.verify(shared) != []


def forged(folder, name, change):
    """Change the text of a file, and all hashes that a forger can state anew: of the resource, and the manifest."""
    path = folder / name
    text = path.read_text(encoding="utf-8")
    changed = change(text)
    assert changed != text
    path.write_text(changed, encoding="utf-8")
    told = json.loads((folder / "datapackage.json").read_text(encoding="utf-8"))
    mine = next(r for r in told["resources"] if r["path"] == name)
    mine |= {"bytes": len(changed.encode()), "hash": f"sha256:{hashlib.sha256(changed.encode()).hexdigest()}"}
    (folder / "datapackage.json").write_text(json.dumps(told, ensure_ascii=False), encoding="utf-8")
    manifest.write(folder)
    assert manifest.verify(folder) == []


def test_forged_data_and_a_forged_manifest_are_seen_by_the_rerun(shared):
    """The answer keeps the hash of the data that it rests on; all three rest on the counts."""
    forged(shared, "data/counts.csv", lambda text: text.replace(",normal,AV,sorrel,2,", ",normal,AV,sorrel,3,", 1))
    found = rerun(shared)
    assert (found.manifest, found.agrees) == ("ok", False)
    assert set(found.results.loc[found.results["verdict"].eq("differs"), "reason"]) == {"data changed"}


def test_forged_results_and_a_forged_manifest_are_seen_by_the_rerun(shared):
    forged(shared, "data/results.csv", lambda text: text.replace(",G1-20,AV-T01,", ",G1-20,AV-T03,", 1))
    found = rerun(shared)
    assert (found.manifest, found.agrees) == ("ok", False)
    assert {"missing", "extra"} <= set(found.results["verdict"])


def test_a_forged_line_of_the_journal_is_seen_by_the_line_after_it(shared):
    """Also where the forger states hash and length of the journal, but not the chain."""
    forged(shared, "journal.jsonl", lambda text: text.replace('"who": "sorrel"', '"who": "someone"', 1))
    assert [f.rule for f in journal.verify(shared)] == ["journal.chain"]


def test_who_makes_everything_anew_is_not_seen_and_the_report_says_so(shared, tmp_path):
    """What no package can show by itself: data changed, run again and shared anew, by palea itself. Only a copy, or the hash
    of its manifest, that was kept elsewhere tells: another state has another one.
    """
    before = manifest.own_hash(shared)
    package = open_package(shared)
    key = {"visit_id": "G1-D03", "unit_id": "G1-AV-T01-1-1", "outcome": "normal", "taxon_id": "AV", "observer": "sorrel"}
    package = saving.save(package.having("counts", [key | {"count": 3}]), STAMP, "misread", words="Forged.")
    package = palea.keep(package, [palea.run("germination.uniformity", package)], STAMP, figures=False)
    only = package["analyses"]["analysis_id"].eq("G1-germination.uniformity")
    results = package["results"][package["results"]["analysis_id"].eq("G1-germination.uniformity")]
    package = package.replacing("results", results.reset_index(drop=True))
    package = saving.save(package.replacing("analyses", package["analyses"][only].reset_index(drop=True)), STAMP, "analysis")
    after = rerun(palea.share(package, tmp_path / "anew.zip"))
    assert after.agrees
    assert before != after.manifest_hash
    after.write(tmp_path / "report.md")
    assert f"compare its own hash, {after.manifest_hash}," in (tmp_path / "report.md").read_text(encoding="utf-8").replace("`", "")


def test_zip_share_open_share_gives_the_same_bytes(archive, kept, tmp_path):
    """And a table and columns of the package's own come through, to the byte, whoever passes the package on."""
    again = palea.share(open_package(archive), tmp_path / "again.zip")
    assert again.read_bytes() == archive.read_bytes()
    third = palea.share(open_package(again), tmp_path / "third.zip")
    assert third.read_bytes() == archive.read_bytes()
    opened = open_package(third)
    for name in ("data/weather.csv", "data/lots.csv", "schema/lots.json"):
        assert opened.file(name).read_bytes() == (kept / name).read_bytes()
    assert opened.extra_columns("lots")["shelf"].tolist() == ["1", "2", "3", "4"]
    assert opened.extra_names == ("weather",)


def test_what_was_changed_after_opening_is_shared_as_a_new_state_with_its_own_parts(shared, kept, tmp_path):
    package = open_package(shared)
    saving.save(package.having("lots", [{"lot_id": "AV-T01-1", "notes": "Seen again."}]), STAMP, "entry", words="A note.")
    opened = open_package(palea.share(open_package(shared), tmp_path / "new.zip"))
    assert manifest.verify(opened.folder) == []
    assert opened["lots"]["notes"].dropna().tolist() == ["Seen again."]
    assert opened.extra_columns("lots")["shelf"].tolist() == ["1", "2", "3", "4"]
    assert opened.file("data/weather.csv").read_bytes() == (kept / "data/weather.csv").read_bytes()
