"""Questions of the bench that need no table: amounts in, amounts out, with the formula and the usual precautions."""

from dataclasses import replace
from functools import wraps
from types import MappingProxyType

from palea import schema
from palea.analyses.recipe import Option, Recipe
from palea.calc.cleaning.asked import machine_or_hands
from palea.calc.coating.pan import pan_speed
from palea.calc.decision.bag_asked import bag_of
from palea.calc.handling.asked import rate, setting
from palea.calc.lots.asked import dry_to, humidity_over, live_share
from palea.calc.planning.best import dishes
from palea.calc.solutions.asked import soak_for_dose, stock_for_dose, weaker_acid
from palea.calc.solutions.osmotic import osmotic
from palea.words.hazard import statement
from palea.words.prose import stop


def _number(default, told, lowest=0.0, highest=None):
    return Option(default, float, told, lowest=lowest, highest=highest)


def _text(default, told):
    return Option(default, str, told)


def _percent(default, told):
    return _number(default, told, 0.0, 100.0)


def _never(_facts):
    """A person asks it; a package as such does not."""
    return False


def precautions(*kinds):
    """Sentences for kinds of hazard ("acid", "dust") by the schema: typical statements, usual precautions, what always holds."""
    held = schema.hazards()
    told = [_precaution(p, held["edition"]) for p in held["step_precautions"] if p["when"]["hazard"] in kinds]
    return (*told, *held["always"]) if told else ()


def _precaution(kind, edition):
    statements = "; ".join(map(statement, kind["statements"]))
    typical = f" Usual for such work ({edition}; confirm on the data sheet): {statements}." if statements else ""
    taken = " ".join(stop(statement(line)) for line in kind["precautions"])
    return f"{kind['title']}.{typical} Usual precautions: {taken}"


def _with_caution(compute, kinds):
    @wraps(compute)
    def asked(**given):
        result = compute(**given)
        return replace(result, warnings=tuple(dict.fromkeys((*result.warnings, *precautions(*kinds)))))

    return asked


def _recipe(name, title, quantity, compute, rung, hazards=(), **options):
    return Recipe(
        id=name, version=1, title=title, rung=rung, quantity=quantity, reads=(), compute=_with_caution(compute, hazards),
        options=MappingProxyType(options), about="package", when=_never,
    )  # fmt: skip


VOLUME_FOR_DOSE = _recipe(
    "coating.volume_for_dose", "How much stock brings the dose to the seed?", "volume to measure", stock_for_dose, "batch",
    ("active",),
    seed_g=_number(40.0, "Bare seed, g."), dose_mg_kg=_number(200.0, "Pure active a kg of bare seed, mg."),
    strength_pct=_percent(2.0, "Strength of the stock, % w/v."),
    purity_pct=_percent(100.0, "Pure active in the material, % w/w."),
    stays_pct=_percent(100.0, "Share of it that stays on the seed, %."),
    carrier_ml=_number(0.0, "Liquid that carries the stock, stock included, mL; 0: none."),
)  # fmt: skip
SOAK_FOR_DOSE = _recipe(
    "coating.soak_for_dose", "How strong must a soak be for the dose?", "strength to make", soak_for_dose, "batch", ("active",),
    dose_mg_kg=_number(200.0, "Pure active a kg of bare seed, mg."),
    uptake_ml_g=_number(0.42, "Liquid that a gram of seed takes up, mL."),
    purity_pct=_percent(100.0, "Pure active in the material, % w/w."),
    molar_mass=_number(0.0, "Molar mass of the active, g/mol; 0: not asked in moles."),
    volume_ml=_number(0.0, "Volume of the soak, mL; 0: not asked what to weigh."),
)  # fmt: skip
OSMOTIC = _recipe(
    "coating.osmotic", "What must be weighed for a water potential at this temperature?", "osmoticum in water", osmotic, "dish",
    potential_mpa=_number(-0.5, "Water potential, MPa; 0 or below.", -1000.0, 0.0),
    temperature_c=_number(20.0, "Temperature at which the seed will lie in it, °C.", -10.0, 60.0),
    solute=_text("PEG 8000", "PEG 8000, mannitol, sucrose, sodium chloride, potassium nitrate or calcium chloride."),
    water_g=_number(1000.0, "Water to mix it with, g; for salts and sugars mL of solution."),
)  # fmt: skip
DILUTION = _recipe(
    "coating.dilution", "What must be weighed for a weaker acid?", "mass to weigh", weaker_acid, "batch", ("acid",),
    acid=_text("sulphuric acid", "Name of the acid."), wanted_pct=_percent(50.0, "Strength wanted, % w/w."),
    stock_pct=_percent(98.0, "Strength of the stock, % w/w."), stock_density=_number(1.8361, "Density of the stock, g/mL."),
    total_g=_number(0.0, "Mass wanted, g; 0: litres is meant."), litres=_number(1.0, "Volume wanted, L."),
    density=_number(0.0, "Density of the acid wanted, g/mL; 0: from the table of sulphuric acid at 20 °C."),
    molar_mass=_number(0.0, "Molar mass of the acid, g/mol; 0: that of sulphuric acid."),
)  # fmt: skip
SPEED = _recipe(
    "coating.speed", "How fast should the pan turn?", "speed of the pan", pan_speed, "batch", ("machinery", "dust"),
    diameter_m=_number(0.3, "Inner diameter of the pan, m.", 0.01, 10.0),
    share_pct=_number(50.0, "Share of the critical speed, %.", 0.0, 200.0),
    unit_mm=_number(0.0, "Diameter of a seed unit, mm; 0: small."),
    from_diameter_m=_number(0.0, "Diameter of a pan that ran well, m; 0: share_pct is meant."),
    from_rpm=_number(0.0, "Its speed, turns a minute."),
)  # fmt: skip
HUMIDITY = _recipe(
    "lots.humidity", "What humidity does a saturated salt give?", "humidity over the salt", humidity_over, "lot",
    salt=_text("magnesium chloride", "Name of the salt."), temperature_c=_number(20.0, "Temperature, °C.", 5.0, 60.0),
)  # fmt: skip
DRYING = _recipe(
    "lots.drying", "At what mass has seed dried enough?", "mass to dry to", dry_to, "lot",
    mass_g=_number(1000.0, "Mass now, g."), moisture_pct=_percent(25.0, "Water now, % of moist seed."),
    target_pct=_percent(14.0, "Water wanted, % of moist seed."),
)  # fmt: skip
LIVE = _recipe(
    "lots.live_share", "How much of the bag is pure live seed?", "pure live seed", live_share, "lot",
    purity_pct=_percent(98.0, "Pure seed by mass, %."), germinated_pct=_percent(92.0, "Germinated, %."),
    dormant_pct=_percent(5.0, "Dormant or hard, %."), wanted_g=_number(0.0, "Pure live seed wanted, g; 0: not asked."),
)  # fmt: skip
QUICKER = _recipe(
    "cleaning.quicker", "From what mass is a machine quicker than hands?", "mass from which it is quicker", machine_or_hands,
    "batch", ("machinery", "dust"),
    setup_min=_number(30.0, "Minutes to set up the machine."), machine_min_g=_number(0.25, "Minutes a gram with it."),
    hand_min_g=_number(4.5, "Minutes a gram by hand."), hand_setup_min=_number(0.0, "Minutes before the hands begin."),
)  # fmt: skip
SOWN = MappingProxyType({
    "live_m2": _number(300.0, "Live seeds wanted on a square metre."), "tsw_g": _number(2.7, "Thousand-seed weight, bare, g."),
    "live_pct": _percent(90.0, "Live of the seed units, %."), "build_up_pct": _number(0.0, "Coat in % of bare seed."),
    "pure_pct": _percent(100.0, "Pure seed in the mass of bare seed, %."),
})  # fmt: skip
RATE = _recipe(
    "handling.rate", "How much product gives the live seeds wanted?", "sowing rate of product", rate, "seeder run", ("dust",),
    **SOWN, area_m2=_number(0.0, "Area to be sown, m2; 0: not asked."),
)  # fmt: skip
SETTING = _recipe(
    "handling.setting", "Which setting gives the live seeds wanted?", "mass to catch", setting, "seeder run",
    ("machinery", "dust"),
    **SOWN, area_m2=_number(100.0, "Area that the calibration stands for, m2."), width_m=_number(2.0, "Width sown, m."),
    wheel_m=_number(1.0, "Way of one turn of the wheel, m."),
    tried=_text("", "Settings and grams that they caught over that area, as 3: 55; 5: 102."),
)  # fmt: skip
DISHES = _recipe(
    "planning.dishes", "Many small dishes or few large ones?", "power", dishes, "dish",
    total=Option(400, int, "Seeds an arm.", lowest=2, highest=100_000),
    level_a=_percent(80.0, "Share expected on the side that is asked about, in %."),
    level_b=_percent(70.0, "Share expected on the side it is held against, in %."),
    rho=_number(0.02, "How alike seeds of one dish are (0: not at all).", 0.0, 0.99),
    power=_number(0.8, "Chance of seeing what is there.", 0.05, 0.999),
    alpha=_number(0.05, "Two-sided level of the test.", 0.0001, 0.5),
    smallest=Option(5, int, "Seeds a dish, at least.", lowest=1, highest=10_000),
)  # fmt: skip
BAG = _recipe(
    "decision.bag", "What goes into a bag that holds seed back?", "mass in the bag", bag_of, "lot", ("dust",),
    held_back_pct=_percent(50.0, "Live seed in the portion held back, %."), live_seeds=_number(10_000.0, "Live seeds in the bag."),
    live_pct=_text("90; 50", "Live of the units of each portion, %."), tsw_g=_text("0.9; 1.45", "Bare thousand-seed weights, g."),
    build_up_pct=_text("0; 0", "Coat of each in % of bare seed."), portions=_text("treated; held back", "Names of the portions."),
)  # fmt: skip
RECIPES = (
    VOLUME_FOR_DOSE, SOAK_FOR_DOSE, OSMOTIC, DILUTION, SPEED, HUMIDITY, DRYING, LIVE, QUICKER, RATE, SETTING, DISHES, BAG,
)  # fmt: skip
