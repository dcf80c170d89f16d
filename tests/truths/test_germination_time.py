"""The curve and the times of a made-up lot of dishes against values found in other programs."""

from pathlib import Path

import pandas as pd
import pytest

from palea.calc.germination.time import curve, times

ASKED = pd.DataFrame(columns=["quantity", "taxon", "environment", "a", "b"])


@pytest.fixture(scope="module")
def intervals():
    """50 seeds dealt over five dishes; together they are the check data."""
    rows = pd.read_csv(Path(__file__).parent / "data" / "synthetic_germination_plateau.csv")
    rows["unit"] = [f"D{i % 5}" for i in range(len(rows))]
    dealt = rows.groupby(["unit", "left", "right"]).size().reset_index(name="count")
    return dealt.assign(taxon="AV", treatment="T01", environment="", batch="B1")


def test_curve_is_the_life_table(intervals):
    """Arithmetic: 2, 9, 21, 30, 35, 38, 39, 40 of 50 seen by days 3 to 10."""
    line = curve(intervals, replicates=99).curves[0]
    by_day = dict(zip(line.time, line.value, strict=True))
    assert [by_day[day] for day in range(3, 11)] == pytest.approx([4, 18, 42, 60, 70, 76, 78, 80], abs=1e-9)


def test_times_of_the_group(intervals):
    """e, d and b: R optim and scipy agree. t10, t90, spread and half of those sown: computed with numpy apart."""
    found = {e.quantity: e.value for e in times(intervals, ASKED, replicates=99, share_of_sown=0.5).groups}
    assert found == {
        "t50": pytest.approx(4.9461186, abs=2e-7), "never-germinating share": pytest.approx(19.834675, abs=2e-5),
        "shape of time to germination": pytest.approx(5.9414687, abs=1e-6), "t10": pytest.approx(3.28571429, abs=1e-8),
        "t90": pytest.approx(7.33333333, abs=1e-8), "spread t10 to t90": pytest.approx(4.04761905, abs=1e-8),
        "time to a share of sown": pytest.approx(5.44444444, abs=1e-8),
    }
