"""Survival: what was taken out is not dead, plots are the clusters, and intervals cover."""

import numpy as np
import pandas as pd
import pytest

from palea.calc.field.lifetimes import alive_means, followed, hazard_means, last_look, risk_rows
from palea.calc.field.survival import compare, curve
from palea.calc.results import Refusal
from palea.calc.stats import kaplan_meier, share_means
from palea.calc.stats.proportions import t_quantile
from palea.errors import UnfitValue

ASKED = {"quantity": "surviving", "denominator": "emerged"}


def _of(result, quantity):
    return next(e for e in result.effects if e.quantity == quantity)


def test_intervals_of_difference_ratio_and_time_cover(trials):
    """100 trials without a difference: 95 % intervals hold it in 95 % (two errors: 4 points)."""
    held = []
    for seed in range(100):
        result = compare(trials.kept({"T01": 0.68, "T07": 0.68, "T05": 0.5}, seed), trials.ask(**ASKED))
        truths = {"surviving": 0, "hazard of dying": 1, "time lived": 0}
        held.append([_of(result, q).lower <= truth <= _of(result, q).upper for q, truth in truths.items()])
    assert (np.mean(held, axis=0) >= 0.90).all()


def test_a_hazard_ratio_comes_back(trials):
    """Alive .40 and .64 are hazards in the ratio ln .64 / ln .40 = 0.487; rho 0 keeps it out of the averaging."""
    found = []
    for seed in range(25):
        means, _ = hazard_means(followed(trials.kept({"T01": 0.40, "T07": 0.64}, seed, rho=1e-6, blocks=20)))
        found.append(means.difference("T07", "T01", 0.0)[0])
    assert np.mean(found) == pytest.approx(np.log(np.log(0.64) / np.log(0.40)), abs=0.09)  # two errors: 0.07


def test_thinned_plants_are_not_dead(trials):
    """Three plants of eight taken out of each plot at day 63 leave the share alive at 68 %; as deaths they halve it."""
    out = [trials.kept({"T01": 0.68}, seed, removed=3) for seed in range(8)]
    thinned = np.mean([compare(frame, trials.ask(**ASKED)).groups[0].value for frame in out])
    dead = [
        compare(frame.assign(right=frame["right"].where(frame["left"].ne(63) | np.isfinite(frame["right"]), 105.0)),
                trials.ask(**ASKED)).groups[0].value
        for frame in out
    ]  # fmt: skip
    assert thinned == pytest.approx(68, abs=3)
    assert np.mean(dead) < 68 - 20


def test_without_losses_it_is_the_quasi_binomial_of_plants(trials):
    """Law: nothing taken out, the shares alive, their dispersion and intervals are those of k alive of n kept."""
    frame = followed(trials.kept({"T01": 0.68, "T07": 0.55})).assign(block="")
    means = alive_means(frame, 189.0)
    n = frame.groupby(["treatment", "unit"])["count"].sum()
    k = frame[np.isinf(frame["right"])].groupby(["treatment", "unit"])["count"].sum().reindex(n.index, fill_value=0)
    plain = share_means.of_counts(n.index.get_level_values(0), k.to_numpy(), n.to_numpy())
    assert means.spread == pytest.approx(plain.spread, rel=1e-9)
    critical = t_quantile(0.95, means.df)
    assert means.difference("T07", "T01", critical) == pytest.approx(plain.difference("T07", "T01", critical), rel=1e-9)


def test_plants_of_a_plot_are_no_replicates(trials):
    """Law: every plant twice in its plot changes no interval; as plots of their own it shortens them."""
    frame = trials.kept({"T01": 0.68, "T07": 0.5}, rho=0.4)
    once, twice = (compare(frame.assign(count=times * frame["count"]), trials.ask(**ASKED)) for times in (1, 2))
    single, double = (_of(result, "surviving") for result in (once, twice))
    assert (double.lower, double.upper) == pytest.approx((single.lower, single.upper), abs=1e-6)
    ratio, ratios = (_of(result, "hazard of dying") for result in (once, twice))
    assert (ratios.lower, ratios.upper) == pytest.approx((ratio.lower, ratio.upper), rel=1e-6)


def test_a_clustered_log_rank_does_not_grow_with_copies(trials):
    """Law: with every plant twice the plain test doubles, the one between plots does not."""
    frame = trials.kept({"T01": 0.68, "T07": 0.5})
    seen = np.isfinite(frame["right"])
    columns = (np.where(seen, frame["right"], frame["left"]), seen, frame["treatment"])
    one, two = (kaplan_meier.log_rank(*columns, times * frame["count"], cluster=frame["unit"]) for times in (1, 2))
    naive, more = (kaplan_meier.log_rank(*columns, times * frame["count"]) for times in (1, 2))
    assert two.statistic == pytest.approx(one.statistic, rel=1e-9)
    assert more.statistic == pytest.approx(2 * naive.statistic, rel=0.02)


def test_shared_visits_give_the_product_limit_curve(trials):
    frame = trials.kept({"T01": 0.68}, removed=2)
    seen = np.isfinite(frame["right"])
    plain = kaplan_meier.fit(np.where(seen, frame["right"], frame["left"]), seen, frame["count"])
    line = curve(frame).curves[0]
    at = np.searchsorted(line.time, plain.time)
    assert line.value[at] == pytest.approx(100 * plain.survival, abs=1e-9)
    assert (line.lower[at] < line.value[at]).all()
    assert line.value[0] == line.lower[0] == 100


def test_a_missed_visit_makes_an_interval_not_a_hole(trials):
    """Plots that were not looked at on day 63 keep their deaths in (21, 105]; the share at the end does not move."""
    frame = trials.kept({"T01": 0.68, "T07": 0.5})
    missed = frame["block"].isin(["B1", "B2", "B3"])
    wide = frame.assign(left=frame["left"].where(~(missed & frame["left"].eq(63)), 21.0),
                        right=frame["right"].where(~(missed & frame["right"].eq(63)), 105.0))
    seen, hidden = (compare(f, trials.ask(**ASKED)) for f in (frame, wide))
    assert [g.value for g in hidden.groups] == pytest.approx([g.value for g in seen.groups], abs=1e-3)
    assert _of(hidden, "hazard of dying").value == pytest.approx(_of(seen, "hazard of dying").value, rel=0.05)


def test_rows_at_risk_add_up(trials):
    """Law: the deaths of the rows are all deaths, and who was at risk first is everybody."""
    frame = followed(trials.kept({"T01": 0.68}, removed=2))
    rows = risk_rows(frame)
    assert rows["died"].sum() == frame.loc[np.isfinite(frame["right"]), "count"].sum()
    first = rows[[span[0] == 1 for span in rows["spans"]]]
    assert first["at_risk"].sum() == frame["count"].sum()


def test_an_arm_without_deaths_has_shares_but_no_hazard(trials):
    frame = trials.kept({"T01": 0.5, "T07": 0.5})
    alive = frame.assign(right=frame["right"].where(frame["treatment"].eq("T01"), np.inf),
                         left=frame["left"].where(frame["treatment"].eq("T01"), 189.0))
    result = compare(alive, trials.ask(**ASKED))
    assert _of(result, "surviving").verdict == "better"
    assert _of(result, "surviving").upper < 100
    ratio = _of(result, "hazard of dying")
    assert np.isnan(ratio.value)
    assert ratio.reason.startswith("No plant of T07 died")


def test_a_declared_hazard_ratio_gets_its_word(trials):
    frame = trials.kept({"T01": 0.35, "T07": 0.75}, blocks=16)
    asked = trials.ask(quantity="hazard of dying", denominator="", wanted="lower")
    (effect,) = compare(frame, asked).effects
    assert (effect.verdict, effect.scale) == ("better", "hazard ratio")
    assert effect.upper < 1


def test_with_plot_effects_the_ratio_is_between_plots_alike(trials):
    """Law: where plots differ, a ratio between plots alike lies further from 1 than one between all plants."""
    frame = trials.kept({"T01": 0.35, "T07": 0.75}, rho=0.3, blocks=30).assign(block="")
    asked = trials.ask(quantity="hazard of dying", denominator="", wanted="lower")
    plain, alike = (compare(frame, asked, plot_effects=effects).effects[0] for effects in (False, True))
    assert alike.value < plain.value < 1
    assert alike.verdict == plain.verdict == "better"
    assert "plots differing at random" in compare(frame, asked, plot_effects=True).method


def test_lost_plots_count_until_they_were_lost(trials):
    frame = trials.kept({"T01": 0.68, "T07": 0.68})
    lost = frame["unit"].eq("T01B0") & frame["left"].ge(63)
    kept = pd.concat([frame[~lost], frame[lost].assign(left=63.0, right=np.inf)])
    result = compare(kept, trials.ask(**ASKED))
    assert last_look(followed(kept)) == 63
    assert result.groups[0].time == 189
    assert any("lost before day 189" in told for told in result.warnings)
    assert last_look(followed(frame)) == 189


def test_a_day_beyond_the_last_look_and_an_empty_trial(trials):
    frame = trials.kept({"T01": 0.68, "T07": 0.68})
    with pytest.raises(UnfitValue, match="followed to day 189"):
        compare(frame, trials.ask(**ASKED), at=200.0)
    assert isinstance(compare(frame[:0], trials.ask(**ASKED)), Refusal)
    assert isinstance(curve(frame[:0]), Refusal)
    assert compare(frame, trials.ask(**ASKED), at=105.0).groups[0].value > compare(frame, trials.ask(**ASKED)).groups[0].value


def test_survival_not_shown_says_how_many_plots(trials):
    effect = _of(compare(trials.kept({"T01": 0.60, "T07": 0.62}, 2), trials.ask(**ASKED)), "surviving")
    assert effect.verdict == "not shown"
    assert "plots a treatment would be needed" in effect.reason
