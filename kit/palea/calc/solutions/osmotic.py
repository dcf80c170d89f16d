"""What to weigh for a water potential at the temperature at which it is used."""

from types import MappingProxyType

from palea.calc.checked import above_zero, not_below_zero, within
from palea.calc.formula import number, shown
from palea.calc.results import Estimate, Refusal, Values
from palea.calc.solutions.potential import GAS_CONSTANT, MICHEL, MICHEL_KAUFMANN, MPA_A_BAR, ZERO_CELSIUS, peg_for
from palea.calc.units import per
from palea.errors import UnfitValue

IN_WATER, MOLAR, TO_MAKE = "osmoticum in water", "strength in moles", "strength to make"
TO_WEIGH = "mass to weigh"
POLYETHYLENE_GLYCOL = "PEG 8000"
NAMES = {MICHEL: "Michel 1983", MICHEL_KAUFMANN: "Michel & Kaufmann 1973"}
FORMULAS = {
    MICHEL: "P = 1.29 C^2 T - 140 C^2 - 4.0 C in bar, C in g/g water",
    MICHEL_KAUFMANN: "P = -0.0118 C - 0.000118 C^2 + 0.000267 C T + 0.000000839 C^2 T in bar, C in g/kg water",
}
# particles that one formula unit falls into, and molar mass [g/mol]
SOLUTES = {
    "mannitol": (1, 182.172), "sucrose": (1, 342.297), "sodium chloride": (2, 58.440), "potassium nitrate": (2, 101.102),
    "calcium chloride": (3, 110.978),
}  # fmt: skip
IDEAL = (
    "Van 't Hoff holds for an ideal solution: real sodium chloride is 7 % weaker at 0.1 mol/kg, stronger solutions differ "
    "more. Measure it where that matters."
)


def osmotic(potential_mpa=-0.5, temperature_c=20.0, solute=POLYETHYLENE_GLYCOL, water_g=1000.0):
    """What to weigh for a water potential at this temperature -> Values, or Refusal.

    potential_mpa : wanted, 0 or below.  temperature_c : at which the seed will lie in it [Cel].  solute : "PEG 8000" (by
    both published equations), or one of mannitol, sucrose, sodium chloride, potassium nitrate, calcium chloride (van
    't Hoff, named ideal).  water_g : water to mix it with, g (for other solutes: mL of solution).
    Refusal where no equation was measured for that temperature. Raises UnfitValue for a potential above 0 or a solute
    that is not known.
    Source: Michel 1983, Plant Physiol. 72:66; Michel & Kaufmann 1973, Plant Physiol. 51:914; van 't Hoff 1887 (ideal).
    """
    within(potential_mpa, "potential_mpa", -1e3, 0, "0 or below: water potential is negative")
    amount = float(not_below_zero(water_g, "water_g"))
    name = solute.strip()
    if name.casefold().replace(" ", "") in ("peg8000", "peg6000", "peg"):
        return _glycol(potential_mpa, temperature_c, amount)
    return _ideal(name.casefold(), potential_mpa, temperature_c, amount)


def _glycol(potential, temperature, water_g):
    estimates, told, doubts = [], [], []
    for equation, name in NAMES.items():
        try:
            content = float(peg_for(potential, temperature, equation))
        except UnfitValue as fault:
            doubts.append(f"{name}: {fault}")
            continue
        of = MappingProxyType({"treatment": name})
        estimates += [Estimate(IN_WATER, of, content, unit=per("g", "kg")),
                      Estimate(TO_WEIGH, of, content * water_g / 1000, unit="g")]
        given = f"P = {potential / MPA_A_BAR:g} bar and T = {temperature:g} °C"
        told += [f"{name}: {FORMULAS[equation]}; with {given}, C = {number(content)} g/kg water.",
                 shown("m", "C x water", f"{number(content)} g/kg x {water_g / 1000:g} kg", content * water_g / 1000, "g")]
    if not estimates:
        return Refusal(quantity=IN_WATER, missing=" ".join(doubts),
                       remedy="Choose a temperature and a potential for which an equation was measured.")
    if len(estimates) == 4:
        a, b = estimates[0].value, estimates[2].value
        apart = 200 * abs(a - b) / (a + b) if a + b else 0.0
        doubts.append(f"The two published equations differ by {apart:.1f} % here; the first is good to 5 % either way. "
                      "Measure the potential where it matters.")
    return Values(method=" ".join(told), estimates=tuple(estimates), warnings=tuple(doubts), assumptions=(
        f"Reckoned for {temperature:g} °C: the same solution is weaker when it is warmer. Weigh the water too.",))


def _ideal(solute, potential, temperature, volume_ml):
    if solute not in SOLUTES:
        msg = f"No water potential is held here for “{solute}”. Known are: {POLYETHYLENE_GLYCOL}, {', '.join(SOLUTES)}."
        raise UnfitValue(msg)
    particles, molar_mass = SOLUTES[solute]
    kelvin = float(above_zero(temperature + ZERO_CELSIUS, "temperature_c + 273.15"))
    molar = -potential / (particles * GAS_CONSTANT * kelvin / 1000)
    mass = molar * molar_mass
    told = (
        shown("c", "-P / (i x R x T)",
              f"{-potential:g} MPa / ({particles} x {GAS_CONSTANT / 1000:.7f} L MPa/(mol K) x {kelvin:g} K)", molar, "mol/L"),
        shown("strength", "c x M", f"{number(molar)} mol/L x {molar_mass:g} g/mol", mass, "g/L"),
        shown("m", "strength x V", f"{number(mass)} g/L x {volume_ml / 1000:g} L", mass * volume_ml / 1000, "g"),
    )  # fmt: skip
    of = MappingProxyType({"treatment": f"{solute}, ideal"})
    return Values(method=" ".join(told), warnings=(IDEAL,), estimates=(
        Estimate(MOLAR, of, 1000 * molar, unit=per("mmol", "L")), Estimate(TO_MAKE, of, mass, unit=per("g", "L")),
        Estimate(TO_WEIGH, of, mass * volume_ml / 1000, unit="g"),
    ), assumptions=("Ideal solution. Fill up to the volume; do not add the water beside it.",))  # fmt: skip
