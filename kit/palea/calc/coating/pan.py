"""How fast a pan turns at a share of its critical speed."""

from palea.calc.checked import above_zero, not_below_zero
from palea.calc.coating.scale_up import GUARD, OF_CRITICAL, critical_speed
from palea.calc.formula import number, shown
from palea.calc.results import NOTHING, Estimate, Values

SPEED = "speed of the pan"
CONSTANT = 42.29  # 60 / (2 pi) sqrt(2 g), for D in m


def pan_speed(diameter_m=0.3, share_pct=50.0, unit_mm=0.0, from_diameter_m=0.0, from_rpm=0.0):
    """Turns a minute of a pan at a share of its critical speed; or at the share at which another pan ran -> Values.

    diameter_m : inner diameter of the pan.  share_pct : of the critical speed.  unit_mm : diameter of a seed unit; 0: it
    is small.  from_diameter_m, from_rpm : another pan and its speed, whose share is kept; 0: share_pct is meant.
    Raises UnfitValue for a diameter not above that of a unit.
    Source: balance of weight and centrifugal force; 42.3 / sqrt(D).

    >>> round(pan_speed(0.9, from_diameter_m=0.3, from_rpm=40).estimates[0].value, 1)
    23.1
    """
    told = []
    unit_m = float(not_below_zero(unit_mm, "unit_mm")) / 1000
    if from_diameter_m and from_rpm:
        there = float(critical_speed(from_diameter_m, unit_m))
        share_pct = 100 * float(above_zero(from_rpm, "from_rpm")) / there
        told.append(shown("share", "n1 / N1, N1 = 42.29 / sqrt(D1 - d)",
                          f"{from_rpm:g} / ({CONSTANT} / sqrt({from_diameter_m - unit_m:g}))", share_pct / 100))
    critical = float(critical_speed(diameter_m, unit_m))
    speed = float(not_below_zero(share_pct, "share_pct")) / 100 * critical
    told.append(shown("n", "share x N, N = 42.29 / sqrt(D - d)",
                      f"{number(share_pct / 100)} x {CONSTANT} / sqrt({diameter_m - unit_m:g})", speed, "turns a minute"))
    faster = (f"At {critical:.1f} turns a minute seed stays on the wall and does not roll.",) if share_pct >= 100 else ()
    return Values(
        method=" ".join(told), warnings=(GUARD, *faster),
        estimates=(Estimate(SPEED, NOTHING, speed, unit="{rev}/min"), Estimate(OF_CRITICAL, NOTHING, share_pct)),
        assumptions=("D and d in m. The critical speed is where seed would stay on the wall; the share is your choice.",),
    )  # fmt: skip
