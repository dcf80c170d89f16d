"""Evidence over packages: what meets is pooled, what does not is listed with its reason."""

import json

import pandas as pd
import pytest

import palea
from palea.analyses import keep
from palea.sharing import many
from palea.shipped import folder
from palea.stamp import Stamp
from palea.tables import saving


@pytest.fixture(scope="module")
def two(tmp_path_factory):
    """The journey with one analysis kept, and another laboratory's package that counted a little otherwise."""
    import shutil

    by = Stamp("C. Sorrel", "2024-03-12T10:00:00+00:00")
    made = []
    for name in ("ours", "theirs"):
        place = shutil.copytree(folder("datapackages_demo") / "journey", tmp_path_factory.mktemp("pool") / name)
        package = palea.open_package(place)
        if name == "theirs":
            counts = package["counts"]
            mine = counts[counts["visit_id"].str.startswith("G4") & counts["unit_id"].str.endswith("-1")]
            seen = mine.pivot_table(index=["visit_id", "unit_id"], columns="outcome", values="count", aggfunc="sum")
            some = seen.index[seen["normal"].gt(2)][::7]
            at = pd.MultiIndex.from_frame(counts[["visit_id", "unit_id"]]).isin(some)
            moved = counts["outcome"].eq("abnormal").astype(int) - counts["outcome"].eq("normal").astype(int)
            counts = counts.assign(count=counts["count"] + moved.where(at, 0))
            package = package.replacing("counts", counts)
            package = saving.save(package, by, "re-count")
        made.append(keep.keep(package, [palea.run("germination.final", package, trial="G4")], by))
    return [made[0], made[1].describing(title="Theirs (invented)")]


def test_the_same_question_of_two_packages_is_pooled_and_the_mean_of_equals_is_theirs(two):
    pooled = many.pool(two)
    assert len(pooled.answers) >= 1
    question, result = pooled.answers[0]
    assert question["species"] == "Armeria maritima"
    mine = [name for name in many.QUESTION if question[name]]
    values = pooled.effects[(pooled.effects[mine] == [question[name] for name in mine]).all(axis=1)]
    assert values["package"].nunique() == 2
    mean = result.effects[0].value
    assert values["value"].min() - 1e-9 <= mean <= values["value"].max() + 1e-9


def test_the_same_data_are_never_counted_twice(two):
    pooled = many.pool([two[0], two[0].describing(title="A copy")])
    assert pooled.answers == ()
    assert pooled.left_out["why"].eq(many.SAME_DATA).sum() == two[0]["results"]["verdict"].notna().sum()


def test_what_only_one_package_asked_is_left_out_with_the_reason(two):
    alone = two[1].replacing("results", two[1]["results"].iloc[:0])
    pooled = many.pool([two[0], alone])
    assert pooled.answers == ()
    assert pooled.left_out["why"].str.contains("only one package asked this").any()
    assert pooled.left_out["why"].str.contains("run palea analyse first").any()
    assert len(pooled.left_out) == 1 + two[0]["results"]["verdict"].notna().sum()


def test_a_question_that_was_refused_is_listed_and_never_pooled(two):
    results = two[0]["results"]
    first = results.index[results["verdict"].notna()][0]
    told = results.assign(verdict=results["verdict"].mask(results.index == first, "not judged"),
                          estimate=results["estimate"].mask(results.index == first),
                          reason=results["reason"].mask(results.index == first, "Two factors changed together."))  # fmt: skip
    pooled = many.pool([two[0].replacing("results", told), two[1]])
    assert pooled.left_out["why"].eq("not judged: Two factors changed together.").sum() == 1
    assert not pooled.effects["value"].isna().any()


def test_the_files_of_a_pool_say_the_same_twice(two, tmp_path):
    first = many.write(many.pool(two), tmp_path / "a")
    second = many.write(many.pool(two), tmp_path / "b")
    for name in ("effects.csv", "left_out.csv", "pooled.json"):
        assert (first / name).read_bytes() == (second / name).read_bytes()
    told = json.loads((first / "pooled.json").read_text(encoding="utf-8"))
    assert {"pooled", "effects", "left_out"} <= set(told)
