"""What keeps a declared contrast from being judged."""

from palea import schema
from palea.calc.terms import Kind
from palea.checks.examples import contrast, dish, lot, several, treated
from palea.checks.rule import rule
from palea.derived.contrasts import SAME_DOSES, arms, asked
from palea.derived.factors import differing, levels
from palea.derived.lookup import beside, texts


def _pair(a, b, lot_a="AV-0", lot_b="AV-0", **asks):
    return several(
        lot("AV-0"), lot("AV-9"), treated("A", **a), treated("B", **b), contrast("A", "B", **asks),
        dish("D1", lot_a, "A", normal=5), dish("D2", lot_b, "B", visits={"2025-03-16": {"normal": 4}}),
    )


def _asks(**more):
    """A pair that differs in its hull, and a contrast of it with these facts in place of the usual ones."""
    example = _pair({}, {"hull": "on"})
    return example | {"contrasts": [example["contrasts"][0] | more]}


@rule(
    "planning.two-factors", severity="error", reads=("contrasts", levels), at="contrasts.b",
    says="{a} against {b} changes {changed} at once, so neither can be told.",
    remedy="Compare with a treatment that differs in one of them; the arm between the two may have to be added.",
    fires=_pair({"hull": "off", "clean_method": "brush machine"}, {"hull": "on"}),
    nearly=_pair({"hull": "off", "clean_method": "brush machine"}, {"hull": "off", "clean_method": "hand"}),
)
def two_factors(contrasts, levels):
    """A contrast asks about exactly one factor."""
    level = levels.set_index("treatment").to_dict("index")
    pairs = [(level.get(a), level.get(b)) for a, b in zip(contrasts["a"], contrasts["b"], strict=True)]
    changed = [" and ".join(differing(a, b)).replace("_", " ") if a and b else "" for a, b in pairs]
    return contrasts.assign(changed=changed)[[" and " in c for c in changed]]


@rule(
    "planning.other-collection", severity="error", reads=("contrasts", asked, arms), at="contrasts.b",
    says="{a} and {b} do not come from the same received lot, so the lot and the treatment changed together.",
    remedy="Take the control from the same received lot.",
    fires=_pair({}, {"hull": "on"}, lot_b="AV-9"), nearly=_pair({}, {"hull": "on"}),
)
def other_collection(contrasts, asked, arms):
    """A control shares a received lot with what it is compared with."""
    behind = arms.groupby("treatment")["origins"].agg(lambda s: frozenset().union(*s))
    known = contrasts[contrasts["a"].isin(behind.index) & contrasts["b"].isin(behind.index)]
    apart = [not behind[a] & behind[b] for a, b in zip(known["a"], known["b"], strict=True)]
    del asked  # the same question is refused there, with this sentence
    return known[apart]


@rule(
    "planning.margin-after-count", severity="warning", reads=("contrasts", asked), at="contrasts.declared_at",
    says="Contrast {contrast_id} with its margin of {margin} was declared on {declared_at}, after the first count.",
    remedy="It earns an interval and no verdict. Fix margins before the first count.",
    fires=_pair({}, {"hull": "on"}, kind="equivalence", margin=15, declared_at="2025-04-01"),
    nearly=_pair({}, {"hull": "on"}, kind="equivalence", margin=15, declared_at="2025-03"),
)
def margin_after_count(contrasts, asked):
    """A margin chosen after the data is no margin."""
    return contrasts[contrasts.index.isin(asked.loc[asked["margin_late"], "line"])]


@rule(
    "planning.asks-about-other", severity="warning", reads=("contrasts", levels), at="contrasts.asks_about",
    says="Contrast {contrast_id} says it asks about {asks_about}, but {a} and {b} differ in {changed}.",
    remedy="Correct what it asks about, or the treatments compared.",
    fires=_pair({"hull": "on"}, {"hull": "off"}, asks_about="coat"),
    nearly=_pair({"hull": "on"}, {"hull": "off"}, asks_about="hull"),
)
def asks_about_other(contrasts, levels):
    """What a contrast says it asks about is the factor that differs."""
    level = levels.set_index("treatment").to_dict("index")
    pairs = [(level.get(a), level.get(b)) for a, b in zip(contrasts["a"], contrasts["b"], strict=True)]
    changed = [differing(a, b) if a and b else [] for a, b in pairs]
    alone = [c[0] if len(c) == 1 else "" for c in changed]
    found = contrasts.assign(changed=[c.replace("_", " ") for c in alone])
    says_other = contrasts["asks_about"].notna() & (contrasts["asks_about"] != alone).fillna(value=False)
    return found[says_other & (found["changed"] != "")]



@rule(
    "planning.same-on-both-sides", severity="error", reads=("contrasts",), at="contrasts.b",
    says="Contrast {contrast_id} compares {a} with itself.",
    remedy="Name the control on one side.",
    fires=_asks(b="A"), nearly=_asks(),
)
def same_on_both_sides(contrasts):
    """Two sides are two treatments."""
    return contrasts[contrasts["a"].eq(contrasts["b"]).fillna(value=False)]


@rule(
    "planning.no-margin", severity="error", reads=("contrasts",), at="contrasts.margin",
    says="Contrast {contrast_id} asks for {kind}, and no margin says which difference would matter.",
    remedy="Fix the margin before the first count; without it there is an interval and no verdict.",
    fires=_pair({}, {"hull": "on"}, kind="equivalence"),
    nearly=_pair({}, {"hull": "on"}, kind="equivalence", margin=15, margin_unit="%"),
)
def no_margin(contrasts):
    """Equivalence and “no worse” are asked with a margin."""
    return contrasts[contrasts["kind"].notna() & contrasts["kind"].ne(Kind.SUPERIORITY) & contrasts["margin"].isna()]


@rule(
    "planning.margin-in-other-unit", severity="warning", reads=("contrasts",), at="contrasts.margin_unit",
    says="Contrast {contrast_id}: the margin of {margin} is in “{margin_unit}”, but {outcome} is compared in {due}.",
    remedy="Write margins of shares in % (points) and margins of ratios in 1.",
    fires=_pair({}, {"hull": "on"}, kind="equivalence", margin=15, margin_unit="mm"),
    nearly=_pair({}, {"hull": "on"}, kind="equivalence", margin=15, margin_unit="%"),
)
def margin_in_other_unit(contrasts):
    """A margin is in the unit of the difference: points for shares, 1 for a ratio, else the unit of the quantity."""
    unit = {q: schema.word("quantity", q)["unit"] for q in schema.words("quantity")}
    due = texts(contrasts["outcome"], unit)
    wrong = contrasts["margin"].notna() & contrasts["margin_unit"].notna() & contrasts["margin_unit"].ne(due)
    ratio = contrasts["margin_unit"].eq("1").fillna(value=False) & due.ne("%").fillna(value=True)
    return contrasts.assign(due=due)[(wrong & ~ratio & due.notna()).fillna(value=False)]


@rule(
    "planning.outcome-not-planned", severity="warning", reads=("contrasts", "trial_outcomes"), at="contrasts.outcome",
    says="Contrast {contrast_id} asks about {outcome}, which trial {trial_id} does not plan to judge.",
    remedy="Enter it among the outcomes of the trial, with its criterion and what it is a share of.",
    fires=_pair({}, {"hull": "on"}, outcome="hard seed"), nearly=_pair({}, {"hull": "on"}),
)
def outcome_not_planned(contrasts, trial_outcomes):
    """What a contrast judges is an outcome of its trial."""
    planned = set(zip(trial_outcomes["trial_id"], trial_outcomes["outcome"], strict=True))
    asks = contrasts["trial_id"].notna() & contrasts["outcome"].notna()
    told = contrasts[asks]
    return told[[pair not in planned for pair in zip(told["trial_id"], told["outcome"], strict=True)]]


@rule(
    "planning.not-sown", severity="warning", reads=("contrasts", arms, "handling_runs"), at="contrasts.a",
    says="Contrast {contrast_id} of trial {trial_id}: no unit of {absent} was sown there.",
    remedy="Correct the treatment named, or withdraw the contrast and say why.",
    fires=several(_asks(a="C"), treated("C")), nearly=_pair({}, {"hull": "on"}),
)
def not_sown(contrasts, arms, handling_runs):
    """Once a trial has units, both sides of its contrasts have some. Handling trials run lots and sow nothing."""
    ran = handling_runs[["trial_id", "treatment_id"]].dropna()
    there = set(zip(arms["trial"], arms["treatment"], strict=True)) | set(ran.itertuples(index=False, name=None))
    begun = contrasts[contrasts["trial_id"].isin({trial for trial, _ in there})].dropna(subset=["a", "b"])
    absent = [
        next((t for t in (a, b) if (trial, t) not in there), "")
        for trial, a, b in begun[["trial_id", "a", "b"]].itertuples(index=False, name=None)
    ]
    return begun.assign(absent=absent)[[bool(a) for a in absent]]


def _primaries(*more):
    return several(
        _pair({}, {"hull": "on"}), {"contrasts": [{"contrast_id": "C2", "trial_id": "G1", "a": "B", "b": "A"} | m for m in more]},
    )


@rule(
    "planning.several-primaries", severity="warning", reads=("contrasts", asked), at="contrasts.primary",
    says="Trial {trial_id}, {taxon}: {contrast_id} is primary, and so is {first}. With several the chance of a false "
    "find grows.",
    remedy="Declare one primary contrast a species; the verdicts are adjusted (Holm) as long as there are more.",
    fires=_primaries({"primary": True}), nearly=_primaries({"primary": False}),
)
def several_primaries(contrasts, asked):
    """One primary contrast a trial and taxon."""
    main = asked[asked["primary"].astype(bool)].drop_duplicates("contrast").dropna(subset=["taxon"])
    first = main.groupby(["trial", "taxon"])["contrast"].transform("first")
    again = main.assign(first=first)[main["contrast"].ne(first)].set_index("line")
    found = contrasts.loc[contrasts.index.isin(again.index)]
    return found.assign(taxon=again["taxon"], first=again["first"])


@rule(
    "planning.no-primary", severity="gap", reads=("trials", asked), at="trials.trial_id", needs="contrasts",
    says="Trial {trial_id}, {taxon}: none of its declared contrasts ({n}) is primary.",
    remedy="Say before the first count which one the trial is for.",
    fires=_pair({}, {"hull": "on"}, primary=False), nearly=_pair({}, {"hull": "on"}),
)
def no_primary(trials, asked):
    """The plan says which contrast it is for, one a taxon."""
    by = asked[asked["taxon"].ne("")].groupby(["trial", "taxon"], sort=False)
    told = by.agg(n=("contrast", "nunique"), primary=("primary", "any")).reset_index()
    bare = told[~told["primary"].astype(bool)]
    return beside(trials.drop_duplicates("trial_id"), "trial_id", bare, "trial")


def _routes(dose_a, dose_b):
    arms_ = _pair({"route": "soak"}, {"route": "coat"}, asks_about="route")
    doses = [
        {"treatment_id": t, "material_id": "GA3", "amount": x, "unit": "mg/kg", "basis": "per kg bare seed"}
        for t, x in (("A", dose_a), ("B", dose_b))
    ]
    return several(arms_, {"treatment_actives": doses})


@rule(
    "planning.doses-apart", severity="warning", reads=("contrasts", asked), at="contrasts.asks_about",
    says="Contrast {contrast_id} cannot be judged, because {refused}.",
    remedy="Compare arms whose delivered doses agree within 0.80 to 1.25, or add an arm at the other's dose.",
    fires=_routes(200, 92), nearly=_routes(200, 195),
)
def doses_apart(contrasts, asked):
    """A route is compared at one dose."""
    apart = asked[asked["asks_about"].eq("route") & asked["refused"].str.contains("mg/kg|unknown dose")]
    once = apart.drop_duplicates("line").set_index("line")
    why = once["refused"].str.replace(f". {SAME_DOSES}", "", regex=False)  # the rule has a remedy of its own
    return contrasts.loc[contrasts.index.isin(once.index)].assign(refused=why)


@rule(
    "planning.share-of-nothing", severity="gap", reads=("trial_outcomes",), at="trial_outcomes.denominator",
    says="Trial {trial_id} judges {outcome}, and does not say as a share of what.",
    remedy="Say of sown units, of filled, of viable or of emerged: the answers differ.",
    fires={"trial_outcomes": [{"trial_id": "G1", "outcome": "normal seedlings"}]},
    nearly={"trial_outcomes": [{"trial_id": "G1", "outcome": "t50"}]},
)
def share_of_nothing(trial_outcomes):
    """A share names what it is a share of."""
    shares = [q for q in schema.words("quantity") if schema.word("quantity", q).get("numerator")]
    return trial_outcomes[trial_outcomes["outcome"].isin(shares) & trial_outcomes["denominator"].isna()]


RULES = (
    two_factors, other_collection, margin_after_count, asks_about_other, same_on_both_sides, no_margin, margin_in_other_unit,
    outcome_not_planned, not_sown, several_primaries, no_primary, doses_apart, share_of_nothing,
)
