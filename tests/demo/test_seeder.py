"""Trial H1 of the demo: what the seeder laid, against the truth and against the counts themselves."""

import numpy as np
import pytest
from scipy import stats

from palea.demo.chance import Chance
from palea.demo.seeder import _order, _poisson, _row
from palea.demo.truth import truth

TRUE = truth()["seeder"]


def test_a_poisson_number_is_one():
    """Chi-square against scipy.stats.poisson."""
    chance = Chance(1, "poisson")
    drawn = np.array([_poisson(chance, 4.0) for _ in range(20_000)])
    kinds = np.arange(13)
    seen = np.array([*((drawn == k).sum() for k in kinds[:-1]), (drawn >= kinds[-1]).sum()])
    wanted = 20_000 * np.array([*stats.poisson.pmf(kinds[:-1], 4), stats.poisson.sf(kinds[-1] - 1, 4)])
    assert stats.chisquare(seen, wanted).pvalue > 0.001
    assert _poisson(chance, 0) == 0


@pytest.mark.parametrize("cv", [0.24, 0.6])
def test_a_row_is_as_uneven_as_it_is_meant_to_be(cv):
    seen = np.array(_row(Chance(2, "row"), 20_000, cv), float)
    assert seen.mean() == pytest.approx(30, rel=0.02)
    assert seen.std(ddof=1) / seen.mean() == pytest.approx(cv, rel=0.03)


def test_the_order_of_runs_is_drawn_over_all_materials():
    """Eight materials and two mixtures, five runs each, from the demo's plan."""
    order = _order()
    assert len(order) == 50
    assert [place for *_, place in order] == list(range(50))
    assert [material for material, *_ in order] != sorted(material for material, *_ in order)


def test_every_run_lies_on_paper_metre_by_metre(written):
    runs, counts = written["handling_runs"], written["handling_counts"]
    seeder = runs[runs["method"].eq("seeder run")].set_index("handling_id")
    laid = counts.groupby("handling_id")["seeds"].sum()
    assert (laid[seeder.index] == seeder["delivered_seed_units"]).all()
    metres = counts.groupby("handling_id")["place_no"].max()
    assert (metres[seeder.index].astype(float) == seeder["length_m"]).all()
    assert (seeder["delivered_g"] < seeder["filled_g"]).all()
    mixed = seeder["hopper_third"].notna()
    assert mixed.sum() == 2 * 3 * 5
    assert not seeder[~mixed].duplicated(["lot_id", "replicate"]).any()


def test_the_pellet_halves_the_unevenness_and_the_mixture_drifts_when_bare(written):
    """True CV .50 and .24, share of grey hair-grass .58 to .42 and .51 to .49 by number, from the demo's plan."""
    counts = written["handling_counts"]

    def cv(start):
        rows = counts[counts["handling_id"].str.startswith(start)].groupby("handling_id")["seeds"]
        return float((rows.std() / rows.mean()).mean())

    assert cv("H1-CC-T08-") / cv("H1-CC-T03-") == pytest.approx(0.48, abs=0.1)
    for mix in TRUE["mixes"]:
        rows = counts[counts["handling_id"].str.startswith(f"H1-mix-{mix}-")]
        by = rows.groupby([rows["handling_id"].str.rsplit("-", n=1).str[-1], "taxon_id"])["seeds"].sum().unstack()
        share = by["CC"] / by.sum(axis=1)
        for third in ("first", "middle", "last"):
            assert share[third] == pytest.approx(TRUE["mixes"][mix]["share"][third], abs=0.05)


def test_what_bridges_is_told_and_has_no_time(written):
    funnel = written["handling_runs"][written["handling_runs"]["method"].eq("funnel")]
    bridged = funnel["seconds"].isna()
    assert set(funnel.loc[bridged, "treatment_id"]) == {"AV-T01", "CC-T01", "AM-T01"}
    assert funnel.loc[bridged, "why_blank"].eq("seconds: not applicable").all()
    assert (funnel.loc[bridged, "stops"] == 1).all()
