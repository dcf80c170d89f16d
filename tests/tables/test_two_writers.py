"""Two people, one package: the second is told what the first did, row by row, and loses nothing."""

import json

import pytest

from palea.errors import ChangedOutside, EntryError
from palea.stamp import Stamp
from palea.tables import journal, merging, saving, validate
from palea.tables.opening import open_package

FIRST, SECOND = (Stamp(who, "2026-05-06T08:00:00+00:00") for who in ("sorrel", "thrift"))
KEY = {"visit_id": "V1", "unit_id": "U1", "outcome": "normal", "taxon_id": "AV", "observer": "sorrel"}
OTHER = KEY | {"unit_id": "U2"}


def overtaken(small, mine, theirs):
    """My unsaved change of the counts, after somebody else saved theirs."""
    proposal = small.having("counts", mine)
    saving.save(open_package(small.folder).having("counts", theirs), FIRST, "re-count")
    with pytest.raises(ChangedOutside) as error:
        saving.save(proposal, SECOND, "misread")
    return proposal, error.value


def test_the_second_is_told_every_row_and_nothing_is_written(small):
    dead = [KEY | {"outcome": "dead", "count": n, "unit_id": f"U{n}"} for n in (1, 2)]
    proposal, told = overtaken(small, [KEY | {"count": 13}], [KEY | {"count": 11}, *dead])
    assert [(d["kind"], d["old"], d["new"]) for d in told.differences if d["kind"] == "changed"] == [("changed", "12", "11")]
    assert [json.loads(d["new"])["count"] for d in told.differences if d["kind"] == "added"] == ["1", "2"]
    assert "1 cell changed, 2 rows added" in str(told)
    assert "V1 / U1 / normal / AV / sorrel: Count was “12” and is “11”." in str(told)
    assert open_package(small.folder)["counts"]["count"].tolist() == [11, 0, 9, 1, 1, 2]
    assert proposal["counts"]["count"].tolist() == [13, 0, 9, 1], "the proposal stays as it was"


def test_changes_of_other_rows_go_on_top(small):
    proposal, _ = overtaken(
        small, [KEY | {"count": 13, "note": "two, or three"}, KEY | {"outcome": "dead", "count": 3}], [OTHER | {"count": 8}]
    )
    after = saving.save(merging.on_top(proposal), SECOND, "misread", words="a 3")
    assert after["counts"]["count"].tolist() == [13, 0, 8, 1, 3]
    assert after["counts"]["note"].tolist()[0] == "two, or three"
    assert [(n["who"], n["old"], n["new"]) for n in after.journal() if n.get("column") == "count"] == [
        ("sorrel", "9", "8"),
        ("thrift", "12", "13"),
    ]
    assert validate.structure(after) == []


def test_a_row_taken_away_goes_on_top_too(small):
    proposal = small.replacing("counts", small["counts"].iloc[1:])
    saving.save(open_package(small.folder).having("counts", [OTHER | {"count": 8}]), FIRST, "re-count")
    after = saving.save(merging.on_top(proposal), SECOND, "typing")
    assert after["counts"]["count"].tolist() == [0, 8, 1]


def test_the_same_row_changed_by_both_is_told_and_left_alone(small):
    proposal, _ = overtaken(small, [KEY | {"count": 13}], [KEY | {"count": 11}])
    with pytest.raises(ChangedOutside, match=r"same row was changed by somebody else.*Count was “12” and is “11”") as error:
        merging.on_top(proposal)
    assert [(d["old"], d["new"]) for d in error.value.differences] == [("12", "11")]
    assert open_package(small.folder)["counts"]["count"].tolist() == [11, 0, 9, 1]


def test_the_same_change_made_twice_is_no_collision(small):
    proposal, _ = overtaken(small, [KEY | {"count": 11}, OTHER | {"count": 7}], [KEY | {"count": 11}])
    assert merging.on_top(proposal)["counts"]["count"].tolist() == [11, 0, 7, 1]


def test_text_that_could_not_be_read_survives_on_top(small):
    path = small.folder / "data/counts.csv"
    path.write_text(path.read_text(encoding="utf-8").replace(",9,", ",ca. 9,"), encoding="utf-8")
    package = saving.adopt(small, FIRST, "as it came")
    proposal = package.having("counts", [KEY | {"outcome": "dead", "count": 3}])
    saving.save(open_package(small.folder).having("counts", [KEY | {"count": 11}]), FIRST, "re-count")
    after = saving.save(merging.on_top(proposal), SECOND, "entry")
    assert [f.value for f in after.misfits("counts")] == ["ca. 9"]
    assert after["counts"]["count"].tolist()[0] == 11


def test_a_row_that_another_took_away_meanwhile_cannot_be_linked_to(small):
    """Different tables, so no file collides; but the link would be broken."""
    mine = open_package(small.folder).having("lots", [{"lot_id": "CC-0", "taxon_id": "CC", "seed_unit": "floret"}])
    assert validate.tables(mine, ["lots"]) == [], "as it was read, the link holds"
    saving.save(small.replacing("taxa", small["taxa"].iloc[[0]]), FIRST, "typing")
    with pytest.raises(EntryError, match="“CC” is not in the table taxa"):
        saving.save(mine, SECOND, "entry")
    assert len(open_package(small.folder)["lots"]) == 2


def test_facts_of_the_package_saved_by_another_are_kept(small):
    saving.save(open_package(small.folder).describing(title="Another title"), FIRST, "entry")
    after = saving.save(small.having("counts", [KEY | {"count": 13}]), SECOND, "misread")
    assert after.title == "Another title"


def test_several_writers_at_once_lose_nothing(small):
    """Processes that each add one row, putting it on top as long as somebody else was first."""
    import subprocess
    import sys

    script = (
        "import sys\n"
        "from palea.errors import ChangedOutside\n"
        "from palea.stamp import Stamp\n"
        "from palea.tables import merging, saving\n"
        "from palea.tables.opening import open_package\n"
        "folder, n = sys.argv[1:]\n"
        "package = open_package(folder)\n"
        "package['taxa'], input()\n"
        "package = package.having('taxa', [{'taxon_id': f'T{n}', 'scientific_name': f'Planta {n}'}])\n"
        "while True:\n"
        "    try:\n"
        "        saving.save(package, Stamp(n, '2026-05-06T08:00:00+00:00'), 'entry')\n"
        "        break\n"
        "    except ChangedOutside:\n"
        "        package = merging.on_top(package)\n"
    )
    writers = [
        subprocess.Popen(
            [sys.executable, "-c", script, str(small.folder), str(n)], stdin=subprocess.PIPE, stderr=subprocess.PIPE
        )
        for n in range(4)
    ]
    for writer in writers:
        writer.stdin.write(b"go\n")
        writer.stdin.flush()
    assert [(w.communicate()[1], w.returncode) for w in writers] == [(b"", 0)] * 4
    after = open_package(small.folder)
    assert set(after["taxa"]["taxon_id"]) == {"AV", "CC", "T0", "T1", "T2", "T3"}
    assert journal.verify(after.folder) == []
    assert validate.structure(after) == []
