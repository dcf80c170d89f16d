"""A rerun says why a published number does not come out: each reason by a package in which just that was done."""

import csv
import hashlib
import json
from dataclasses import replace

import palea
from palea.analyses import catalogue, earlier
from palea.sharing.rerun import rerun
from palea.tables import saving
from palea.tables.opening import open_package

STAMP = palea.Stamp("thrift", "2025-05-02T09:00:00+00:00")
FINAL, SOWN = "G1-germination.final", "G1-germination.final-denominator-sown-units"
EVEN, SPEED = "G1-germination.uniformity", "G1-germination.indices"


def by_hand(folder, table, change, *, hide=False):
    """Change the rows of a table as a text editor would. hide : restate the hash in the descriptor as well."""
    path = folder / f"data/{table}.csv"
    with path.open(encoding="utf-8", newline="") as source:
        rows = list(csv.DictReader(source))
    change(rows)
    with path.open("w", encoding="utf-8", newline="") as sink:
        writer = csv.DictWriter(sink, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
    if hide:
        told = json.loads((folder / "datapackage.json").read_text(encoding="utf-8"))
        mine = next(r for r in told["resources"] if r["name"] == table)
        data = path.read_bytes()
        mine |= {"bytes": len(data), "hash": f"sha256:{hashlib.sha256(data).hexdigest()}"}
        (folder / "datapackage.json").write_text(json.dumps(told), encoding="utf-8")


def first(rows, analysis_id):
    return next(r for r in rows if r["analysis_id"] == analysis_id)


def kinds(found):
    """{analysis: reasons of those of its numbers that did not come out}."""
    rows = found.results[~found.results["verdict"].isin(["identical"])]
    return {name: set(mine["reason"]) for name, mine in rows.groupby("analysis_id")}


def test_what_was_not_touched_comes_out_again(archive):
    found = rerun(archive)
    assert (found.manifest, found.agrees, found.reasons, kinds(found)) == ("ok", True, {}, {})
    assert found.count("identical") == len(found.results) > 10


def test_data_that_were_changed_are_named_with_what_stood_there_before(copy):
    package = open_package(copy)
    row = {"visit_id": "G1-D03", "unit_id": "G1-AV-T01-1-1", "outcome": "normal", "taxon_id": "AV", "observer": "sorrel"}
    before = package["counts"]["count"].iloc[0]
    saving.save(package.having("counts", [row | {"count": before + 3}]), STAMP, "misread", words="Seen again.")
    found = rerun(copy)
    assert kinds(found) == {name: {"data changed"} for name in (FINAL, SOWN, EVEN, SPEED)}
    assert f"counts, G1-D03, G1-AV-T01-1-1, normal, AV, sorrel: count was {before} and is {before + 3} (thrift, 2025-05-02)" in (
        found.reasons[FINAL])  # fmt: skip
    assert "With what stood there before, the published numbers come out." in found.reasons[FINAL]


def test_data_that_were_changed_outside_are_told_by_their_hash(copy):
    by_hand(copy, "units", lambda rows: rows[0].update(sown_n="50"))
    found = rerun(copy)
    assert {"data changed"} in kinds(found).values()
    assert "data/units.csv was changed outside palea" in found.reasons[FINAL]


def test_a_number_that_was_altered_is_told_by_what_still_says_the_old_one(copy):
    """Also where the forger restates the hash of the table."""
    by_hand(copy, "results", lambda rows: first(rows, EVEN).update(estimate="99.5"), hide=True)
    found = rerun(copy)
    assert kinds(found) == {EVEN: {"number altered"}}
    assert found.results.loc[found.results["verdict"].eq("differs"), ["was", "apart"]].to_numpy().tolist() == [[99.5, "Estimate"]]
    assert "the sentences kept beside it say what comes out now" in found.reasons[EVEN]
    assert "hash" not in found.reasons[EVEN]


def test_an_option_a_version_an_id_and_the_last_figures_that_were_changed(copy):
    """The forger restates the hashes, so the rerun alone has to find it: in each analysis another thing was done.

    Of one nothing shows that a number was altered, so other software is told as the other way out.
    """

    def analyses(rows):
        first(rows, SOWN)["options"] = json.dumps(json.loads(first(rows, SOWN)["options"]) | {"confidence": 0.9})
        first(rows, EVEN)["version"] = "99"

    def results(rows):
        first(rows, FINAL)["estimate"] = repr(float(first(rows, FINAL)["estimate"]) * (1 + 4e-7))
        first(rows, SPEED)["n_seeds"] = "199"
        first(rows[::-1], EVEN)["analysis_id"] = "nobody-asked"

    by_hand(copy, "analyses", analyses, hide=True)
    by_hand(copy, "results", results, hide=True)
    (copy / f"analyses/{SPEED}/sentences.md").unlink()
    (copy / "environment.json").write_text(json.dumps({"numpy": "1.0", "python": ["x"], "deep": None}), encoding="utf-8")
    found = rerun(copy)
    assert kinds(found) == {
        FINAL: {"software differs"}, SOWN: {"option changed"}, EVEN: {"version changed"}, SPEED: {"software differs"},
        "nobody-asked": {"not run"},
    }  # fmt: skip
    assert "the published ones come out with confidence “0.95” in place of “0.9”." in found.reasons[SOWN]
    assert "There is no version 99 of germination.uniformity here." in found.reasons[EVEN]
    assert found.reasons[SPEED].endswith("or a number was altered.")
    assert found.results.loc[found.results["verdict"].eq("differs"), "apart"].tolist().count("Seeds") == 1
    assert "no row in analyses" in found.reasons["nobody-asked"]
    assert "Environment: numpy 1.0, now " in found.told()
    assert found.count("within tolerance") == 1
    found.write(copy.with_name("r.md"))
    assert "as they do with other software (numpy 1.0, now " in copy.with_name("r.md").read_text(encoding="utf-8")
    assert not found.agrees


def test_the_version_that_gives_the_published_numbers_is_named(copy, monkeypatch):
    """An earlier version of a calculation gave them, and the row says the present one."""
    present = catalogue.find("germination.uniformity")

    def compute(*given, **options):
        result = present.compute(*given, **options)
        return replace(result, estimates=tuple(replace(e, value=e.value * 2) for e in result.estimates))

    monkeypatch.setattr(earlier, "KEPT", (*earlier.KEPT, replace(present, version=0, compute=compute)))
    package = open_package(copy)
    palea.keep(package, [palea.run("germination.uniformity", package, version=0)], STAMP, figures=False)
    by_hand(copy, "analyses", lambda rows: first(rows, EVEN).update(version=str(present.version)), hide=True)
    found = rerun(copy)
    assert kinds(found) == {EVEN: {"version changed"}}
    assert found.reasons[EVEN].endswith("the published numbers come out with version 0.")


def reworded(analysis_id, said="Nobody knows."):
    """A change of results: another reason beside the first number of an analysis."""
    return lambda rows: first(rows, analysis_id).update(reason=said)


def test_words_that_were_altered_beside_a_number_that_comes_out_are_told_as_such(copy):
    def results(rows):
        reworded(EVEN)(rows)
        first(rows, SPEED).update(reason="Nobody knows.", estimate="99.5")
        rows[[r["analysis_id"] for r in rows].index(SPEED) + 1].update(reason="")

    by_hand(copy, "results", results, hide=True)
    found = rerun(copy)
    assert kinds(found) == {EVEN: {"words changed"}, SPEED: {"number altered"}}
    apart = found.results[found.results["verdict"].eq("differs")].groupby("analysis_id")["apart"].agg(list).to_dict()
    assert apart == {EVEN: ["Reason"], SPEED: ["Estimate, Reason"]}
    which = "germination uncertainty (AV, G1-20, AV-T01, value)"
    assert found.reasons[EVEN].startswith(f"Only words changed: number and verdict of {which} came out, ")
    assert "was “Nobody knows” and is blank." in found.reasons[EVEN]
    assert found.reasons[EVEN].endswith("Data, version, options and palea are the ones recorded, so the words were altered.")
    assert not found.agrees


def test_another_palea_may_word_a_reason_otherwise(copy):
    """The number stays the same one, and the rerun tells that it is worded otherwise."""
    by_hand(copy, "results", reworded(EVEN), hide=True)
    by_hand(copy, "analyses", lambda rows: first(rows, EVEN).update(code_version="0.0.9"), hide=True)
    found = rerun(copy)
    assert (found.agrees, kinds(found)) == (True, {})
    assert found.reasons[EVEN].startswith("Only words changed: ")
    assert f"palea 0.0.9 wrote them, this is palea {palea.__version__}, and its words may be others." in found.reasons[EVEN]
    assert found.reasons[EVEN] in found.told()


def test_words_of_an_earlier_version_of_a_recipe_are_not_held_against_it(copy):
    package = open_package(copy)
    palea.keep(package, [palea.run("germination.final", package, version=1)], STAMP, figures=False)
    by_hand(copy, "results", reworded(FINAL), hide=True)
    found = rerun(copy)
    assert (found.agrees, kinds(found), found.reasons) == (True, {}, {})
