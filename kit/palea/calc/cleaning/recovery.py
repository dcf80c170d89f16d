"""What a cleaning run kept, by number and by mass apart: a pod and a clean seed weigh different amounts."""

import numpy as np
import pandas as pd

from palea.calc.checked import above_zero, not_below_zero, share
from palea.calc.cleaning.between import KEYS, Measured, answers
from palea.calc.results import Refusal
from palea.calc.units import per

OF_FILLED, OF_ALL = "recovery of filled units", "recovery of all units"
BY_MASS = "recovery by mass"
DAMAGED, LIVE_YIELD = "damaged in cleaning", "live-seed yield"
PER_GRAM, PER_1000 = "minutes per gram", "minutes per 1000 seeds"
PER_1000_LIVE = "minutes per 1000 live seeds"
SHARES = (OF_FILLED, OF_ALL, BY_MASS, DAMAGED, LIVE_YIELD)


def units_in(mass_g, thousand_g):
    """Seed units in a mass, from the mass of a thousand [g]: 1000 mass / TSW.

    >>> round(float(units_in(1200, 5.2)))
    230769
    """
    return 1000 * not_below_zero(mass_g, "mass_g") / above_zero(thousand_g, "thousand_g")


def by_number(units_out, units_put_in, filled_out=1.0, filled_in=1.0):
    """Units that came out whole, of those that went in, as a share: out x filled out / (in x filled in).

    units_out, units_put_in : numbers, > 0 in.  filled_out, filled_in : shares that hold a seed; leave both at 1 for all
    units out of all units in, and filled_out at 1 where every unit that came out counts as clean seed.
    Above 1 where seed weight or fill is off. Raises UnfitValue outside these.
    Source: common practice, no source.

    >>> float(by_number(179_857, 230_769, 0.97, 0.84).round(3)), float(by_number(179_857, 230_769).round(3))
    (0.9, 0.779)
    """
    out = not_below_zero(units_out, "units_out") * share(filled_out, "filled_out")
    return out / (above_zero(units_put_in, "units_put_in") * share(filled_in, "filled_in", open_low=True))


def by_mass(clean_g, raw_g):
    """Clean seed per mass put in, both as dry matter or both at equal water content, as a share.

    >>> float(by_mass(485.6, 1200).round(2))
    0.4
    """
    return not_below_zero(clean_g, "clean_g") / above_zero(raw_g, "raw_g")


def live_seed_yield(number_recovery, viable_before, viable_after):
    """Live seed out per live seed in: recovery by number x viability after / before.

    number_recovery : of the units that both viabilities are shares of: all units, or filled ones.
    Source: common practice, no source.

    >>> float(live_seed_yield(0.9, 0.93, 0.93))
    0.9
    """
    before = share(viable_before, "viable_before", open_low=True)
    return not_below_zero(number_recovery, "number_recovery") * share(viable_after, "viable_after") / before


def said(of_mass, of_all, of_filled):
    """The sentence that keeps pod and seed apart, from three shares.

    >>> said(0.40, 0.78, 0.90)[:52]
    'Recovery 40 % by mass is 78 % by number of units and'
    """
    return (
        f"Recovery {100 * of_mass:.0f} % by mass is {100 * of_all:.0f} % by number of units and "
        f"{100 * of_filled:.0f} % of the filled ones: what went in and what came out weigh different amounts a unit."
    )


def recovery(cleaning_runs, asked, confidence=0.95):
    """Recovery, damage, live-seed yield and minutes of each method, and differences between methods -> Effects.

    cleaning_runs : frame, one row a cleaning run: taxon, treatment (what the runs are compared by: the treatment, or
    the method), control (bool: is this the one to compare with), batch (the run), raw_g, clean_g [g, dry matter or at
    equal water content], raw_thousand_g, clean_thousand_g [g], filled_in, filled_out, viable_in, viable_out (shares of
    all units, 0 to 1), damaged_k, damaged_n (units looked at after cleaning), minutes (hands-on). nan where unknown: what
    hangs on it is left out.
    asked : declared contrasts as in germination.final; what is declared earns a verdict, the rest of what can be
    compared with the control has an interval alone. Shares are compared as a difference in points, minutes as a ratio
    of geometric means. A method with one run is described, not compared.
    Refusal where no run has a mass in and out. Raises UnfitValue for a mass or share that cannot be.
    Source: common practice (recovery); Snedecor & Cochran 1989 (means of runs); Schuirmann 1987; Dunnett 1955; Holm
    1979. The run as unit: Hurlbert 1984, Ecol. Monogr. 54:187.
    """
    read = cleaning_runs.dropna(subset=["raw_g", "clean_g"])
    if read.empty:
        return Refusal(quantity=OF_FILLED, missing="No cleaning run has both the mass in and the mass out.",
                       remedy="Weigh what goes in and each fraction that comes out, and enter both.")
    long = _measured(read)
    told = tuple(dict.fromkeys(_oddities(long)))
    units = {PER_GRAM: per("min", "g"), PER_1000: per("min", "1000"), PER_1000_LIVE: per("min", "1000")}
    return answers(long, asked, [Measured(q, "%") for q in SHARES] + [Measured(q, u, ratio=True) for q, u in
                   units.items()], confidence, warnings=told)  # fmt: skip


def _measured(read):
    """One row a run and quantity; what cannot be had is nan."""
    into, out = units_in(read["raw_g"], read["raw_thousand_g"]), units_in(read["clean_g"], read["clean_thousand_g"])
    of_all = by_number(out, into)
    alive = live_seed_yield(of_all, read["viable_in"].replace(0, np.nan), read["viable_out"])
    looked_at = read["damaged_n"].where(read["damaged_n"] > 0)
    minutes, seeds = read["minutes"].to_numpy(float), np.where(out > 0, out, np.nan)
    values = {
        OF_FILLED: 100 * by_number(out, into, read["filled_out"], read["filled_in"].replace(0, np.nan)),
        OF_ALL: 100 * of_all,
        BY_MASS: 100 * by_mass(read["clean_g"], read["raw_g"]),
        DAMAGED: 100 * share(read["damaged_k"] / looked_at, "damaged_k / damaged_n"),
        LIVE_YIELD: 100 * alive,
        PER_GRAM: minutes / read["raw_g"].to_numpy(float),
        PER_1000: 1000 * minutes / seeds,
        PER_1000_LIVE: 1000 * minutes / (seeds * np.where(read["viable_out"] > 0, read["viable_out"], np.nan)),
    }
    counted_of = {OF_FILLED: into * read["filled_in"], OF_ALL: into, DAMAGED: read["damaged_n"]}
    frames = [
        read[[*KEYS, "control", "batch"]].assign(
            quantity=name, value=np.asarray(value, float), seeds=read["damaged_n"] if name == DAMAGED else seeds,
            n=counted_of.get(name, np.nan),
        )
        for name, value in values.items()
    ]
    return pd.concat(frames, ignore_index=True).dropna(subset=["value"])


def _oddities(long):
    """More than all, and the sentence on mass and number."""
    above = long[long["quantity"].isin([OF_FILLED, OF_ALL]) & (long["value"] > 100)]
    for row in above.itertuples():
        yield (f"{row.batch}: {row.quantity} is {row.value:.1f} %: more came out than went in. "
               "Look again at seed weight and fill before and after.")
    means = long.pivot_table(index=["taxon", "treatment"], columns="quantity", values="value", sort=False)
    wanted = [BY_MASS, OF_ALL, OF_FILLED]
    if set(wanted) <= set(means):
        for (_, treatment), row in (means[wanted] / 100).dropna().iterrows():
            yield f"{treatment}: {said(*row)}"
