"""What keeps a declared contrast from being judged."""

from palea.checks.examples import contrast, dish, lot, several, treated
from palea.checks.rule import rule
from palea.derived.contrasts import arms, asked
from palea.derived.factors import differing, levels


def _pair(a, b, lot_a="AV-0", lot_b="AV-0", **asks):
    return several(
        lot("AV-0"), lot("AV-9"), treated("A", **a), treated("B", **b), contrast("A", "B", **asks),
        dish("D1", lot_a, "A", normal=5), dish("D2", lot_b, "B", visits={"2025-03-16": {"normal": 4}}),
    )


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


RULES = (two_factors, other_collection, margin_after_count, asks_about_other)
