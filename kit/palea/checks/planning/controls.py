"""Which controls a trial lacks: without them what is compared changes more than is asked about.

A control is looked for among the treatments sown in the same trial of the same taxon. Declared contrasts say what is
asked; where a treatment is sown and nothing is asked of it, nothing is missing.
"""

import pandas as pd

from palea import schema
from palea.checks.examples import contrast, dish, lot, several, treated
from palea.checks.rule import rule
from palea.derived.contrasts import arms
from palea.derived.factors import done, intended
from palea.derived.lookup import beside, texts
from palea.derived.view import view


@view(arms, intended, done, contrasts="trial_id a b", treatments="treatment_id role")
def tested(arms, intended, done, contrasts, treatments):
    """One row a trial, taxon and sown treatment: its intended levels, its role, whether a contrast asks about it.

    `hidden` : runs behind it whose recipe is kept back ("" for none).
    """
    sown = arms.drop_duplicates(["trial", "taxon", "treatment"])[["trial", "taxon", "treatment"]]
    told = sown.merge(intended.drop_duplicates("treatment"), on="treatment")
    pairs = set(zip(contrasts["trial_id"], contrasts["a"], strict=True))
    asked = [pair in pairs for pair in zip(told["trial"], told["treatment"], strict=True)]
    role = texts(told["treatment"], treatments.set_index("treatment_id")["role"])
    hidden = texts(told["treatment"], done.set_index("treatment")["hidden"])
    return told.assign(asked=pd.Series(asked, index=told.index, dtype=bool), role=role.fillna(""), hidden=hidden.fillna(""))


def _lacking(treatments, wanting):
    """Rows of treatments, with trial and taxon of the first trial in which each lacks its control."""
    return beside(treatments, "treatment_id", wanting.drop_duplicates("treatment"), "treatment")


def _not_among(rows, columns, there):
    """Rows whose values in these columns are not among the keys that are there."""
    keys = rows[columns].itertuples(index=False, name=None)
    return rows[pd.Series([key not in there for key in keys], index=rows.index, dtype=bool)]


def _without_blank(treatments, tested, carrier):
    """Treatments that bring an active in a coat or a soak, where no arm of the same carrier brings none."""
    with_it = tested[tested[carrier].ne("")]
    carrying, blank = with_it[with_it["active"].ne("") & with_it["asked"]], with_it[with_it["active"].eq("")]
    place = ["trial", "taxon", carrier]
    return _lacking(treatments, _not_among(carrying, place, set(blank[place].itertuples(index=False, name=None))))


def _arm(treatment, number, **levels):
    """A treatment with a dish of its own in trial G1."""
    return several(
        treated(treatment, **levels),
        dish(f"D{number}", "AV-0", treatment, visits={f"2025-03-{10 + number}": {"normal": 5}}),
    )


COATED = {"coat_class": "film", "route": "coat", "clean_method": "hand"}
ACTIVE = {"treatment_actives": [{"treatment_id": "A", "material_id": "KNO3"}]}


@rule(
    "planning.no-blank-coat",
    severity="warning",
    reads=("treatments", tested),
    at="treatments.treatment_id",
    needs="contrasts treatment_actives",
    says="Trial {trial} has {treatment_id} with {active} in a coat, and no {coat} coat without it: the active cannot "
    "be told "
    "from the coat.",
    remedy="Add a blank coat: the same coat, put on in the same way, without the active.",
    fires=several(lot("AV-0"), _arm("A", 1, **COATED), _arm("B", 2), ACTIVE, contrast("A", "B")),
    nearly=several(lot("AV-0"), _arm("A", 1, **COATED), _arm("B", 2, **COATED), ACTIVE, contrast("A", "B")),
)
def no_blank_coat(treatments, tested):
    """An active in a coat has beside it a coat of its class that carries none."""
    return _without_blank(treatments, tested, "coat")


SOAKED = {"route": "soak", "soak_then": "dried back"}


@rule(
    "planning.no-solvent-soak",
    severity="warning",
    reads=("treatments", tested),
    at="treatments.treatment_id",
    needs="contrasts treatment_actives",
    says="Trial {trial} has {treatment_id} soaked with {active}, and no soak in the solvent alone, {soak}: the soak "
    "itself cannot "
    "be told from the active.",
    remedy="Add a soak in the solvent alone, as long, as warm and dried in the same way.",
    fires=several(lot("AV-0"), _arm("A", 1, **SOAKED), _arm("B", 2), ACTIVE, contrast("A", "B")),
    nearly=several(lot("AV-0"), _arm("A", 1, **SOAKED), _arm("B", 2, **SOAKED), ACTIVE, contrast("A", "B")),
)
def no_solvent_soak(treatments, tested):
    """An active soaked in has beside it the same soak without it, dried in the same way."""
    return _without_blank(treatments, tested, "soak")


HANDLED = {"role": "handled sham", "clean_method": "hand"}


@rule(
    "planning.no-sham",
    severity="warning",
    reads=("treatments", tested),
    at="treatments.treatment_id",
    needs="contrasts",
    says="Nothing in the package was tumbled, wetted and dried without materials, so for {taxon} the {coat} coat of "
    "{treatment_id} cannot be told from its handling.",
    remedy="Tumble, wet and dry some seed of the same lot without materials, and sow it beside the coat.",
    fires=several(lot("AV-0"), _arm("A", 1, **COATED), _arm("B", 2), contrast("A", "B")),
    nearly=several(lot("AV-0"), _arm("A", 1, **COATED), _arm("B", 2, **HANDLED), contrast("A", "B")),
)
def no_sham(treatments, tested):
    """A blank coat of a taxon is held against seed that was handled alike, in some trial. Told once a taxon.

    A coat of unknown recipe is compared as a product: its control is seed that travelled uncoated.
    """
    coats = tested[tested["coat"].ne("") & tested["active"].eq("") & tested["asked"] & tested["hidden"].eq("")]
    handled = set(tested.loc[tested["handling"].ne(""), "taxon"])
    return _lacking(treatments, coats[~coats["taxon"].isin(handled)].drop_duplicates("taxon"))


def _plots(*sown):
    rows = [
        {
            "unit_id": f"P{n}",
            "trial_id": "G1",
            "kind": "plot",
            "treatment_id": f"T{n}",
            "lot_id": "AV-0" if s else None,
            "sown_n": s,
            "status": "in use",
        }
        for n, s in enumerate(sown)
    ]
    return several(lot("AV-0"), treated("T0"), treated("T1"), {"trials": [{"trial_id": "G1"}], "units": rows})


@rule(
    "planning.no-unsown",
    severity="warning",
    reads=("trials", "units"),
    at="trials.trial_id",
    says="Trial {trial_id} has {n} sown plots and none unsown: wild seedlings of the same species would be counted as "
    "yours.",
    remedy="Leave some plots of each block unsown (seed units sown: 0), and count them as the others.",
    fires=_plots(120, 120),
    nearly=_plots(120, 0),
)
def no_unsown(trials, units):
    """Where plots lie open to seed from around, the level of unsown ground is known. Rows show where they were sown."""
    plots = units[units["kind"].eq("plot") & units["sown_n"].notna()]
    by = plots.groupby("trial_id")["sown_n"].agg(n="size", unsown=lambda s: s.eq(0).any())
    bare = by[~by["unsown"].astype(bool)]
    found = trials[trials["trial_id"].isin(bare.index)]
    return found.assign(n=found["trial_id"].map(bare["n"]))


@rule(
    "planning.no-control",
    severity="gap",
    reads=("trials", arms, "treatments"),
    at="trials.trial_id",
    says="Trial {trial_id} of {taxon}: none of its {n} treatments is a control (untouched, sham, blank or reference).",
    remedy="Say in the treatments which of them is the control; if there is none, the trial compares treatments among "
    "themselves.",
    fires=several(lot("AV-0"), _arm("A", 1), _arm("B", 2)),
    nearly=several(lot("AV-0"), _arm("A", 1), _arm("B", 2, role="untouched")),
)
def no_control(trials, arms, treatments):
    """A trial of several treatments has a control of each taxon."""
    known = treatments.drop_duplicates("treatment_id").dropna(subset=["treatment_id"]).set_index("treatment_id")["role"]
    sown = arms[arms["treatment"].isin(known.index)].drop_duplicates(["trial", "taxon", "treatment"])
    held_against = known.index[known.isin(schema.words("treatment_role", control=True))]
    by = sown.assign(is_control=sown["treatment"].isin(held_against)).groupby(["trial", "taxon"], sort=False)
    counted = by.agg(n=("treatment", "size"), controls=("is_control", "sum")).reset_index()
    bare = counted[counted["n"].gt(1) & counted["controls"].eq(0)]
    return beside(trials.drop_duplicates("trial_id"), "trial_id", bare, "trial")


RULES = (no_blank_coat, no_solvent_soak, no_sham, no_unsown, no_control)
