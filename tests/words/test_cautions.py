"""Which intervals may be too narrow, as a sentence with the figure of the simulation and where it lies."""

from palea.calc import simulated
from palea.calc.results import Effects, Estimate, Values
from palea.words import cautions

NAMES = {"CC": "Corynephorus canescens", "T09": "Contractor's pellet"}


def estimate(caution=simulated.FEW_UP, **of):
    return Estimate("emerged", {"taxon": "CC", "environment": "E"} | of, 2.0, 1.0, 4.0, caution=caution)


def test_what_carries_no_caution_is_not_spoken_of():
    assert cautions(Values(estimates=(estimate(None, treatment="T09"),)), NAMES) == []


def test_one_sentence_a_caution_names_all_that_it_concerns_once():
    found = Effects(groups=(estimate(treatment="T09"), estimate(None, treatment="T03"), estimate(treatment="T09")),
                    effects=(estimate(a="T09", b="T03"), estimate(simulated.FAR_BATCHES, a="T05", b="T03")))  # fmt: skip
    first, second = cautions(found, NAMES)
    assert first == (
        "Intervals of T09 (Corynephorus canescens) and T09 against T03 (Corynephorus canescens) may be too narrow: with fewer "
        "than 4 plants a plot, in fewer than 16 plots, how much plots differ can hardly be seen. Of 100 simulated data sets of "
        "such a design (2 % of 110 seeds in each of 8 plots that differ widely, or beside a treatment that does far better) "
        "95 % intervals held the true value in as few as 89 (tests/coverage, emergence)."
    )
    assert second.startswith("Intervals of T05 against T03 (Corynephorus canescens) may be too narrow: a treatment far from ")
    assert second.endswith("in as few as 86 (tests/coverage, final-batches).")


def test_a_long_list_is_cut():
    many = Values(estimates=tuple(estimate(treatment=f"T{n:02d}") for n in range(9)))
    (told,) = cautions(many, NAMES)
    assert "T04 (Corynephorus canescens) and 4 more may be" in told
    assert "T05" not in told
