"""Written procedures of the invented demo: what a run was meant to be, step by step, with what is still within it."""

from palea.demo.bench import VERSION
from palea.demo.coating import Charge, coat_protocol, meant_pct
from palea.demo.setting import setting
from palea.demo.truth import arms_of, truth

MOIST = 0.09  # of seed as it is loaded, for amounts per kg
KG = 1000
WITHIN = {"amount": 0.2, "duration_s": 0.25, "speed_rpm": 0.08, "temperature_c": 0.1, "air_flow_l_min": 0.2}
BENCH = ("hand-bench", "brush-bench", "soak-water", "soak-ga3", "acid-bench", "flame-bench")


def written(book):
    """Enter every procedure: those of the bench as they are laid down, those of coats as their recipes have them."""
    for name in BENCH:
        _enter(book, name, setting("procedures")[name], _laid_down(name))
    for name, (taxon, arm) in _coats().items():
        recipe = setting("recipe_of")[arm]
        _enter(book, name, setting("procedures")[recipe], list(_coat(taxon, arm, recipe)))


def _enter(book, name, about, steps):
    row = {"stage": "coating", "run_kind": "coat"} | {k: v for k, v in about.items() if k != "steps"}
    book.add("protocols", protocol_id=name, version=VERSION, licence="CC-BY-4.0", issued_on="2023-09-25",
             authors="B. Thrift; C. Sorrel", **row)
    for number, step in enumerate(steps, 1):
        book.add("protocol_steps", protocol_id=name, version=VERSION, step=number, **_bounded(step))


def _bounded(step):
    """A step with the lowest and highest value of what it sets; a machine is named by its kind."""
    row = {k: v for k, v in step.items() if k not in ("equipment_id", "minutes", "observed", "why_blank")}
    if "equipment_id" in step:
        row["equipment_kind"] = next(e["kind"] for e in setting("equipment") if e["equipment_id"] == step["equipment_id"])
    for column, within in WITHIN.items():
        value = row.get(column)
        if value and f"lowest_{column}" not in row:
            row |= {f"lowest_{column}": round(value * (1 - within), 3), f"highest_{column}": round(value * (1 + within), 3)}
    return row


def _laid_down(name):
    """Steps of a procedure of the bench; acid and flame were laid down as the run that they describe."""
    how = name.removesuffix("-bench")
    return setting("harsh")[how]["steps"] if how in setting("harsh") else setting("procedures")[name]["steps"]


def _coats():
    """{procedure: (taxon, arm) that follows it}, each once."""
    found = {}
    for taxon in truth()["species"]:
        for arm in arms_of(taxon):
            if arm in setting("recipe_of"):
                found.setdefault(coat_protocol(taxon, arm), (taxon, arm))
    return found


def _coat(taxon, arm, recipe):
    """Steps of a coat for a kg of seed as it is loaded."""
    how, active = setting("recipes")[recipe], setting("actives_in").get(arm)
    dry_g = KG * (1 - MOIST)
    charge = Charge(KG, dry_g, (meant_pct(taxon, arm) or 0) / 100)
    in_bowl = {"equipment_id": "coater-1", "speed_rpm": how["speed_rpm"]}
    yield {"action": "load", "unit": "g", "basis": "in all", "equipment_id": "coater-1"}
    for cycle in range(1, how["cycles"] + 1):
        yield from _cycle(how, charge, cycle, in_bowl)
        if active and cycle == 2:
            yield _carried(active, in_bowl)
    yield {"action": "tumble", "duration_s": 90, "end_point": "until no unit sticks to the wall", **in_bowl}
    yield {"action": "unload", "unit": "g", "basis": "in all", "equipment_id": "coater-1"}
    yield {"action": "dry", "temperature_c": 30, "duration_s": 60 * how["dry_min"], "equipment_id": "dryer-1",
           "end_point": "until it runs freely"}
    if how["powder"]:
        yield {"action": "screen", "equipment_id": "sieves-1", "passes": 1, "end_point": how["screen"]}


def _cycle(how, charge, cycle, in_bowl):
    shared = {"cycle": cycle, "basis": "per kg seed put in", **in_bowl}
    yield {"action": "wet", "material_id": how["liquid"], "unit": "mL", "duration_s": 40 * how["wet_min"], **shared,
           "amount": round(charge.liquid_g(how) / how["cycles"] / how["binder_density"], 2)}
    if how["powder"]:
        yield {"action": "powder", "material_id": how["powder"], "unit": "g", **shared,
               "amount": round(charge.solids_g(how) * (1 - how["binder_share"]) / how["cycles"], 2)}


def _carried(active, in_bowl):
    kept = {k: v for k, v in active.items() if k != "per_g_seed"}
    return {"cycle": 2, "basis": "per kg seed put in", "amount": round(KG * active["per_g_seed"], 2), "duration_s": 60,
            **kept, **in_bowl}
