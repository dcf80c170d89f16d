"""Dishes as they are simulated, held against what truth.json says of them."""

from collections import Counter

import pytest
from scipy import stats

from palea.demo.chance import Chance, Urn
from palea.demo.germination import NEVER, _seed, dishes
from palea.demo.truth import arm, arms_of, expit, truth

DAYS = truth()["germination"]["G1"]["days"]


def worked_out(taxon, name):
    """Normal seedlings of filled seed at the end, from the parameters: a product, with the log-logistic at day 42."""
    it = arm(taxon, name)
    by_the_end = stats.fisk(it.shape, scale=it.t50_d).cdf(DAYS[-1])
    return it.viable * (1 - it.hard) * expit(it.logit_germinable) * by_the_end * (1 - it.abnormal)


@pytest.mark.parametrize(("taxon", "name", "share"), [
    # Worked out by hand from the factor table of the demo's plan: .93 x .40 x .90 x .97, then x .78 in place of .40;
    # logit(.72) - .75 = .1945, so .90 x .5485 x .97; the same less .85; logit(.62) + 1.60, so .92 x .8899 x .97.
    pytest.param("AV", "T02", 0.3248, id="hard seed stays hard by hand"),
    pytest.param("AV", "T03", 0.6333, id="the brush scratches it"),
    pytest.param("CC", "T03", 0.4788, id="the brush hurts"),
    pytest.param("CC", "T09", 0.2980, id="and the contractor's pellet more"),
    pytest.param("AM", "T11", 0.7941, id="GA3 by soaking"),
    pytest.param("AM", "T13", 0.3692, id="half of the seedlings abnormal at the high dose"),
])
def test_effects_add_up_along_the_chain_of_arms(taxon, name, share):
    assert worked_out(taxon, name) == pytest.approx(share, abs=0.003)  # the few that wait beyond day 42


@pytest.mark.parametrize("taxon", truth()["species"])
def test_dishes_show_what_is_true(taxon):
    """Over 30 seeds each arm's share of filled seed lies within four standard errors of what its parameters give."""
    found = {name: Counter() for name in arms_of(taxon)}
    for seed in range(30):
        for dish in dishes("G1", taxon, seed):
            found[dish.arm].update(dish.ends)
    for name, ends in found.items():
        filled = ends.total() - ends["empty"]
        share = worked_out(taxon, name)
        # Shares differ by dish (DE 1.48) and by batch; 2 is a round bound for both together.
        error = (2 * share * (1 - share) / filled) ** 0.5
        assert ends["normal"] / filled == pytest.approx(share, abs=4 * error), name


def test_times_are_log_logistic():
    """Kolmogorov-Smirnov of the times against scipy.stats.fisk, the same distribution under another name."""
    it, chance = arm("AM", "T07"), Chance(3, "times")
    urn = Urn(chance, 0.999, 0.001)
    times = [time for _, time in (_seed(chance, it, 0, urn) for _ in range(20_000)) if time < NEVER]
    assert stats.kstest(times, stats.fisk(it.shape, scale=it.t50_d).cdf).pvalue > 0.001
    assert it.t50_d == pytest.approx(16.5), "three times that of bare seed, whatever the blank film does"


def test_a_seed_is_seen_at_the_first_visit_after_it_germinates():
    """Intervals are open on the left and closed on the right, and who is late for the last visit is found sound."""
    fast = sum(n for d in dishes("G1", "CC", 1) for (day, _), n in d.seen.items() if day == DAYS[0])
    all_of = sum(d.ends["normal"] + d.ends["abnormal"] for d in dishes("G1", "CC", 1))
    assert 0 < fast < all_of / 5, "with a half time of five days few germinate in the first three"
    assert {day for d in dishes("G1", "AM", 1) for day, _ in d.seen} == set(DAYS)


def test_every_single_seed_ends_once():
    for dish in dishes("G1", "AV", 2):
        assert dish.ends.total() == 25


def test_a_pellet_may_hold_two_seeds_or_none():
    of_contractor = [d.ends for d in dishes("G1", "CC", 2) if d.arm == "T09"]
    assert len(of_contractor) == 16
    assert {ends.total() for ends in of_contractor} != {25}
    empties = sum(ends["empty"] for ends in of_contractor) / 400
    assert empties == pytest.approx(0.09 + 0.97 * 0.03, abs=0.05)
