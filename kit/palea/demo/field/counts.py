"""What is counted in each plot and row at each visit."""

from palea.demo.field import crowded, thinned
from palea.demo.field.seedlings import followed
from palea.demo.field.truth import UNSOWN, field_truth

NEW = ("emerged", "standing")
THINNING = ("standing", "removed", "kept")


def weeks(trial):
    """{week of a visit: what is looked for in it}, in order."""
    plan = field_truth()["trials"][trial]
    at_thinning = {plan["thinned_week"]: THINNING} if plan["thinned_week"] else {}
    later = ("standing", "died") if at_thinning else ("standing",)
    return dict.fromkeys(plan["new_weeks"], NEW) | at_thinning | dict.fromkeys(plan["later_weeks"], later)


def counted(spot, taxa, week, seed):
    """(taxon, outcome, count) of one plot at one visit, for each species that is looked for in it."""
    plan = field_truth()["trials"][spot.trial]
    for taxon in _looked_for(spot, taxa):
        if week in plan["new_weeks"]:
            seen = _new(spot, taxon, week, seed)
        elif week == plan["thinned_week"]:
            seen = _thinning(spot, taxon, seed)
        else:
            seen = _later(spot, taxon, week, seed)
        for outcome, count in seen.items():
            yield taxon, outcome, count


def _looked_for(spot, taxa):
    """The species sown there; where one grows by itself that too; all of them in an unsown plot."""
    if spot.arm == UNSOWN:
        return taxa
    wild = field_truth()["wild"]
    here = {spot.taxon} | ({wild["taxon"]} if spot.trial == wild["trial"] else set())
    return [taxon for taxon in taxa if taxon in here]


def _before(spot, week):
    """The week of the visit before, 0 before the first."""
    return max((w for w in weeks(spot.trial) if w < week), default=0)


def _new(spot, taxon, week, seed):
    since = _before(spot, week)
    emerged = sum(since < s.up <= week for s in followed(spot, taxon, seed))
    return dict(zip(NEW, (emerged, thinned.standing(spot, taxon, week, seed)), strict=True))


def _thinning(spot, taxon, seed):
    before = thinned.standing(spot, taxon, field_truth()["trials"][spot.trial]["thinned_week"], seed)
    left = before if spot.arm == UNSOWN else len(thinned.kept(spot, seed)) if spot.taxon == taxon else 0
    return dict(zip(THINNING, (before, before - left, left), strict=True))


def _later(spot, taxon, week, seed):
    if not field_truth()["trials"][spot.trial]["thinned_week"]:
        return {"standing": crowded.standing_later(spot, seed)[week]}
    if spot.arm == UNSOWN:
        deaths = thinned.left_unsown(spot, taxon, seed)
    elif spot.taxon == taxon:
        deaths = [plant.died for plant in thinned.kept(spot, seed)]
    else:
        return {}  # wild ones were taken out at the thinning
    since = _before(spot, week)
    return {"standing": sum(d > week for d in deaths), "died": sum(since < d <= week for d in deaths)}
