"""Units of measure as UCUM codes: read, compared, converted. What cannot be told is refused, never guessed.

Three things are never implicit: a volume becomes a mass only with a density, an amount of substance only with a molar
mass, and a percentage only with its basis: "%{w/w}", "%{w/v}" and "%{v/v}" are three units, and "%" alone is none of
them. What a count counts stays too: mg/{seed} and mg are not the same.
"""

import re
from collections import Counter
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import NamedTuple

from palea.errors import UnfitValue

MASS, LENGTH, TIME, AMOUNT, CURRENT, ANGLE = "mass", "length", "time", "amount of substance", "current", "angle"
WARMTH = "temperature difference"
PREFIXES = MappingProxyType({
    "": 1.0, "k": 1e3, "h": 1e2, "da": 10.0, "d": 0.1, "c": 1e-2, "m": 1e-3, "u": 1e-6, "n": 1e-9, "M": 1e6, "G": 1e9,
})
# Factor to g, m, s, mol, A, K, rad and the powers of each; the first group takes prefixes, the second does not.
_PRESSURE = {MASS: 1, LENGTH: -1, TIME: -2}
METRIC = MappingProxyType({
    "g": (1.0, {MASS: 1}), "m": (1.0, {LENGTH: 1}), "s": (1.0, {TIME: 1}), "mol": (1.0, {AMOUNT: 1}),
    "L": (1e-3, {LENGTH: 3}), "l": (1e-3, {LENGTH: 3}), "Pa": (1e3, _PRESSURE), "bar": (1e8, _PRESSURE),
    "N": (1e3, {MASS: 1, LENGTH: 1, TIME: -2}), "J": (1e3, {MASS: 1, LENGTH: 2, TIME: -2}), "ar": (100.0, {LENGTH: 2}),
    "S": (1e-3, {MASS: -1, LENGTH: -2, TIME: 3, CURRENT: 2}), "A": (1.0, {CURRENT: 1}),
    "K": (1.0, {WARMTH: 1}),
})
PLAIN = MappingProxyType({
    "min": (60.0, {TIME: 1}), "h": (3600.0, {TIME: 1}), "d": (86400.0, {TIME: 1}), "wk": (604800.0, {TIME: 1}),
    "mo": (2629800.0, {TIME: 1}), "a": (31557600.0, {TIME: 1}),
    "%": (0.01, {}), "deg": (0.017453292519943295, {ANGLE: 1}), "rad": (1.0, {ANGLE: 1}),
    "[lb_av]": (453.59237, {MASS: 1}), "[oz_av]": (28.349523125, {MASS: 1}), "[in_i]": (0.0254, {LENGTH: 1}),
    "[ft_i]": (0.3048, {LENGTH: 1}), "[acr_us]": (4046.872609874252, {LENGTH: 2}),
})
_DENSITY = {MASS: 1, LENGTH: -3}
IN_MASS, IN_VOLUME = "mass in mass", "volume in volume"


class _Basis(NamedTuple):
    """What a percentage of this basis counts ("": it has a dimension instead), one per cent of it, and its powers."""

    counts: str
    factor: float
    powers: dict


BASES = MappingProxyType({
    "w/w": _Basis(IN_MASS, 0.01, {}), "w/v": _Basis("", 1e4, _DENSITY), "v/v": _Basis(IN_VOLUME, 0.01, {}),
})  # fmt: skip
_TERM = re.compile(r"([./])?(?:(\d+(?:\*\d+)?)|(\[[A-Za-z_]+\]|%|[A-Za-z]+)([+-]?\d+)?)?(?:\{([!-z|~]*)\})?")
_DENSITY_NEEDED = "a density in g/mL", LENGTH, 3
_MOLAR_NEEDED = "a molar mass in g/mol", AMOUNT, 1


@dataclass(frozen=True)
class Unit:
    """A unit that was read: `factor` to g, m, s, mol, A and rad, the powers of each, and what it counts.

    counted : {annotation: power} of what stands beside the physical units, as {seed}; and the basis of a share: mg/kg
    and %{w/w} are mass in mass, mL/L and %{v/v} volume in volume, a bare % is neither.
    """

    code: str
    factor: float
    powers: MappingProxyType = field(default_factory=lambda: MappingProxyType({}))
    counted: MappingProxyType = field(default_factory=lambda: MappingProxyType({}))

    @property
    def things(self):
        """What it counts, without saying that it is mass in mass: with a density that can become mass in volume."""
        return {name: power for name, power in self.counted.items() if name != IN_MASS}

    def is_like(self, other):
        """Whether one can be turned into the other by a factor alone."""
        return self.powers == other.powers and self.counted == other.counted


def per(numerator, *denominators):
    """The code of one unit for each of another: per("mg", "kg").

    >>> per("g", "L")
    'g/L'
    """
    return "/".join((numerator, *denominators))


def percent(basis):
    """The code of a percentage of a basis, which it is never without: "w/w", "w/v" or "v/v".

    Raises UnfitValue for another basis.

    >>> percent("w/v")
    '%{w/v}'
    """
    if basis not in BASES:
        msg = f"The basis of a percentage is “{basis}”; allowed are {', '.join(BASES)}."
        raise UnfitValue(msg)
    return f"%{{{basis}}}"


def read(code, more=MappingProxyType({})):
    """A UCUM code as a Unit.

    code : products and quotients of atoms with prefix, whole power and annotation: "mg/kg", "d2", "mg/{seed}", "/d",
    "%{w/v}"; case matters.  more : {atom: (factor, {dimension: power})} beside those known here; it takes no prefix.
    Temperatures on a scale with an offset are not read: they convert by more than a factor; K is a difference, as in
    K.d. A month (mo) is a twelfth of a year of 365.25 days, as UCUM has it.
    Raises UnfitValue for what is no such code, with the part that could not be read.
    Source: the Unified Code for Units of Measure, version 2.2 (ucum); its annotations have no meaning there, here they
    say what is counted.

    >>> read("mL").factor, read("mg/kg").factor
    (1e-06, 1e-06)
    """
    factor, powers, counted, at = 1.0, Counter(), Counter(), 0
    if not code:
        msg = "A unit is blank; write a UCUM code such as g or mL, or 1 for a plain number."
        raise UnfitValue(msg)
    while at < len(code):
        found = _TERM.match(code, at)
        if not found or found.end() == at or (at and not found[1]) or not any(found.groups()[1:]):
            msg = f"“{code[at:]}” in the unit “{code}” cannot be read; write a UCUM code such as g, mL or kg/har."
            raise UnfitValue(msg)
        sign = -1 if found[1] == "/" else 1
        own, own_powers, own_counted = _term(code, found, more)
        factor *= own**sign
        for total, new in ((powers, own_powers), (counted, own_counted)):
            total.update({name: sign * power for name, power in new.items()})
        at = found.end()
    for dimension, basis in ((MASS, IN_MASS), (LENGTH, IN_VOLUME)):
        if powers.get(dimension) == 0:  # it was there and went out against itself: mg/kg, mL/L
            counted[basis] += 1
    return Unit(code, factor, _without_zeros(powers), _without_zeros(counted))


def _term(code, found, more):
    """(factor, powers, counted) of one term."""
    _, number, atom, power, note = found.groups()
    if number:
        base, _, exponent = number.partition("*")
        return float(base) ** int(exponent or 1), {}, {note: 1} if note else {}
    if atom == "%" and note in BASES:
        basis, factor, powers = BASES[note]
        return factor, powers, {basis: 1} if basis else {}
    factor, powers = _atom(code, atom, more) if atom else (1.0, {})
    times = int(power or 1)
    # a physical unit with a note (m{row}) keeps its dimension; only a note alone is a thing that is counted
    noted = {note: 1} if note and not atom else {}
    return factor**times, {name: times * p for name, p in powers.items()}, noted


def _atom(code, atom, more):
    known = {**PLAIN, **more}
    if atom in known:
        return known[atom]
    for prefix, times in PREFIXES.items():
        rest = atom[len(prefix) :]
        if atom.startswith(prefix) and rest in METRIC:
            factor, powers = METRIC[rest]
            return times * factor, powers
    msg = f"“{atom}” in the unit “{code}” is no unit known here. Case matters: mL, not ml or ML."
    raise UnfitValue(msg)


def _without_zeros(powers):
    return MappingProxyType({name: power for name, power in sorted(powers.items()) if power})


def convert(value, code, to, *, density_g_ml=None, molar_mass_g_mol=None, more=MappingProxyType({})):
    """A value in another unit.

    value : number or array in `code`.  to : the unit wanted.  density_g_ml : [g/mL], to go between volume and mass.
    molar_mass_g_mol : [g/mol], to go between amount of substance and mass.  more : as in `read`.
    Inside one dimension a factor is enough. Raises UnfitValue where the two differ in what they measure, naming what is
    missing, and for a density or molar mass that is not above 0.
    Source: arithmetic; units as in `read`.

    >>> round(convert(8.0, "mL", "g", density_g_ml=1.05), 6)
    8.4
    """
    if code == to:
        return value
    have, want = read(code, more), read(to, more)
    if have.is_like(want):
        return value * (have.factor / want.factor)
    if have.things == want.things and not {"%", "1"} & {code, to}:
        for known, way in ((density_g_ml, _DENSITY_NEEDED), (molar_mass_g_mol, _MOLAR_NEEDED)):
            times = _bridged(have, want, way)
            if times:
                return value * (have.factor / want.factor) * _bridge(known, way, code, to) ** times
    raise UnfitValue(_mismatch(have, want))


def _bridged(have, want, way):
    """How many times volume (or amount) must be turned into mass to come from one to the other; 0: never."""
    _, dimension, size = way
    need = Counter(want.powers)
    need.subtract(have.powers)
    times = need.get(MASS, 0)
    return times if times and _without_zeros(need) == _without_zeros({MASS: times, dimension: -size * times}) else 0


def _bridge(known, way, code, to):
    needed, dimension, _ = way
    if known is None:
        msg = f"{code} does not become {to} without {needed}. Write it beside the material, or weigh in place of it."
        raise UnfitValue(msg)
    if not known > 0:
        msg = f"{needed[2:].capitalize()} is {known}; allowed is a number above 0."
        raise UnfitValue(msg)
    return known * (1e6 if dimension == LENGTH else 1.0)


def _mismatch(have, want):
    if "%" in {have.code, want.code}:
        return (
            f"{have.code} does not become {want.code}: a percentage without a basis says neither mass nor volume. "
            "Write %{w/w}, %{w/v} or %{v/v}."
        )
    if have.powers == want.powers:
        return f"{have.code} does not become {want.code}: they do not count the same things."
    return f"{have.code} does not become {want.code}: they measure different things. Give the value in a unit like it."


def per_mass_to_per_unit(value_mg_kg, unit_mass_mg):
    """Mass per mass of seed as mass per seed unit: mg/kg x mg / 10^6 [mg].

    >>> per_mass_to_per_unit(1000.0, 2.0)
    0.002
    """
    return value_mg_kg * unit_mass_mg / 1e6
