"""The courses of dishes behind curves: found for a whole figure at once, thinned to the points at which a dish moves."""

from collections import defaultdict

from palea.figures import theme

POINT = ("unit", "time", "value")


def key(curve):
    """What a curve is of: by this the courses of its dishes are found."""
    return tuple(sorted((k, str(v)) for k, v in curve.of.items()))


def of_curves(curves, units):
    """{key of a curve: columns unit, time, value of its dishes}; of a curve that no dish belongs to, no rows.

    units : one row a dish and time: unit, time, value and what curves are of; without these columns no dish is found.
    """
    found = {}
    for names in dict.fromkeys(tuple(sorted(curve.of)) for curve in curves):
        if {*names, *POINT} <= set(units.columns):
            found |= _by(units, names)
    return {key(curve): _columns(_moving(found.get(key(curve), ()))) for curve in curves}


def _by(units, names):
    """{what dishes are of: their points in the order of dish and time}."""
    known = units[units[list(POINT)].notna().all(axis="columns")]
    of = [[(name, str(v)) for v in known[name].tolist()] for name in names]
    of = zip(*of, strict=True) if of else [()] * len(known)
    points = zip(*(known[column].tolist() for column in POINT), strict=True)
    found = defaultdict(list)
    for mine, point in zip(of, points, strict=True):
        found[mine].append(point)
    return {mine: sorted(points, key=lambda point: point[:2]) for mine, points in found.items()}


def _moving(points):
    """Points without those at which a dish stands still, save its first and its last."""
    ends = (None, None, None)
    around = zip([ends, *points], points, [*points[1:], ends], strict=False)
    return [here for before, here, after in around if here[0] != before[0] or here[0] != after[0] or here[2] != before[2]]


def _columns(points):
    unit, time, value = zip(*points, strict=True) if points else ((), (), ())
    return {"unit": list(map(str, unit)), "time": list(map(float, time)), "value": theme.rounded(value, 3)}
