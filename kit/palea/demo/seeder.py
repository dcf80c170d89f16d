"""Trial H1 of the invented demo: bare and coated seed and two mixtures through the seeder, and how they flow."""

from functools import cache
from math import exp, log

from palea import schema
from palea.demo.chance import Chance
from palea.demo.days import at
from palea.demo.setting import setting
from palea.demo.trial import plan
from palea.demo.truth import species, truth

TRIAL = "H1"
RUN, BULK, TAPPED, ANGLE, FUNNEL = "seeder run", "bulk density", "tapped density", "angle of repose", "funnel"
FLOW, FLOW_TIMES = ("loose_g_ml", "tapped_g_ml", "angle_deg", "funnel_g_s"), 3
STOP_S = 20  # to free the meter
M_S = 3.6  # km/h in a metre a second


def run_through(book, taxa):
    """The plan, the order drawn by lot, each run with its counts, and the tests of flow before."""
    plan(book, TRIAL, taxa, book.seed)
    for taxon in taxa:
        for name, number in setting("seeder")["lots"][taxon].items():
            _flow(book, taxon, name, f"{taxon}-{name}-{number}")
    for mix in mixes(taxa):
        _blend(book, mix)
    swept = {}
    for material, number, place in _order():
        run = (_alone if material[0] in truth()["species"] else _mixed)(book, taxa, material, number, place)
        for lot_id, grams in run:
            swept[lot_id] = swept.get(lot_id, 0) + grams
    for lot_id, grams in swept.items():
        book.move(lot_id, setting("seeder")["days"][-1], "drawn for test", grams=grams, drawn_how="whole lot",
                  moved_by="thrift", notes=f"{TRIAL}: run through the seeder, counted, swept up and thrown away.")


def mixes(taxa):
    """Names of the mixtures that can be made of these species."""
    found = truth()["seeder"]["mixes"]
    return [name for name, mix in found.items() if set(_parts(mix)) <= set(taxa)]


def _parts(mix):
    """{species: arm} of a mixture."""
    return {taxon: mix[taxon] for taxon in truth()["species"] if taxon in mix}


def _order():
    """(material, repetition, place in the order) of all runs, whichever species are written, drawn by lot."""
    alone = [(taxon, name) for taxon, lots in setting("seeder")["lots"].items() for name in lots]
    mixed = [("mix", name) for name in truth()["seeder"]["mixes"]]
    runs = range(1, truth()["seeder"]["runs"] + 1)
    drawn = Chance(truth()["seed"]["value"], TRIAL, "order").shuffled([(m, n) for m in (*alone, *mixed) for n in runs])
    return [(material, number, place) for place, (material, number) in enumerate(drawn)]


def lot_of(taxon, name):
    """The lot of an arm that goes through the seeder."""
    return f"{taxon}-{name}-{setting('seeder')['lots'][taxon][name]}"


def _blend(book, mix):
    """Two species blended by number, half and half."""
    parts, lot_id = _parts(truth()["seeder"]["mixes"][mix]), f"mix-{mix}"
    each = setting("seeder")["blended_units_each"]
    mean_mg = sum(book.unit_mg(lot_of(taxon, name)) for taxon, name in parts.items()) / len(parts)
    book.lot(lot_id, mean_mg, seed_unit="mixture", source_kind="made here",
             notes=f"Half and half by number: {' and '.join(f'{t}-{n}' for t, n in parts.items())}.")
    for taxon, name in parts.items():
        book.move(lot_of(taxon, name), setting("seeder")["blended_on"], "moved to lot", units=each, moved_by="thrift",
                  counterpart_lot_id=lot_id, drawn_how="divider")


def _alone(book, taxa, material, number, place):
    """One run of one material, where its species is written. Yields (lot, grams that it laid)."""
    taxon, name = material
    if taxon not in taxa:
        return
    numbers, chance = truth()["seeder"], Chance(book.seed, TRIAL, taxon, name, number)
    metres, lot_id, handling_id = numbers["metres"], lot_of(taxon, name), f"{TRIAL}-{taxon}-{name}-{number}"
    seen = _row(chance, metres, numbers["row_cv"][taxon][name])
    stops = _poisson(chance, numbers["stops_a_100_m"][taxon].get(name, 0) * metres / 100)
    units = sum(seen)
    grams = units * book.unit_mg(lot_id) / 1000
    meant = numbers["units_a_metre"] * metres * book.unit_mg(lot_id) / 1000
    book.add("handling_runs", handling_id=handling_id, lot_id=lot_id, treatment_id=f"{taxon}-{name}",
             **_machine(chance, number, place, metres, stops), filled_g=round(numbers["filled_times"] * meant, 2),
             delivered_g=round(grams, 3), delivered_seed_units=units, moisture_pct=_moist(chance, taxon, name))
    for metre, count in enumerate(seen, 1):
        book.add("handling_counts", handling_id=handling_id, place_no=metre, taxon_id=taxon, start_m=metre - 1,
                 length_m=1, seeds=count)
    yield lot_id, grams


def _mixed(book, taxa, material, number, place):
    """One hopper of a mixture, counted in its first, middle and last third, where both species are written."""
    mix = material[1]
    if mix not in mixes(taxa):
        return
    numbers, how = truth()["seeder"], truth()["seeder"]["mixes"][mix]
    parts, metres, lot_id = _parts(how), numbers["thirds_metres"], f"mix-{mix}"
    chance = Chance(book.seed, TRIAL, "mix", mix, number)
    filled = 2 * setting("seeder")["blended_units_each"] / numbers["runs"] * book.unit_mg(lot_id) / 1000
    for third in schema.words("hopper_third"):
        handling_id = f"{TRIAL}-mix-{mix}-{number}-{third}"
        seen = [_split(chance, n, parts, how["share"], third) for n in _row(chance, metres, how["row_cv"])]
        grams = sum(n * book.unit_mg(lot_of(t, parts[t])) / 1000 for metre in seen for t, n in metre.items())
        book.add("handling_runs", handling_id=handling_id, lot_id=lot_id, hopper_third=third,
                 **_machine(chance, number, place, metres, 0), filled_g=round(filled, 2), delivered_g=round(grams, 3),
                 delivered_seed_units=sum(sum(metre.values()) for metre in seen), moisture_pct=7.9)
        for metre, counts in enumerate(seen, 1):
            for taxon, count in counts.items():
                book.add("handling_counts", handling_id=handling_id, place_no=metre, taxon_id=taxon, start_m=metre - 1,
                         length_m=1, seeds=count)
        yield lot_id, grams


def _split(chance, units, parts, share, third):
    """How many of so many units are of each species."""
    named = share["of"]
    other = next(taxon for taxon in parts if taxon != named)
    mine = sum(chance.happens(share[third]) for _ in range(units))
    return {taxon: mine if taxon == named else units - mine for taxon in (named, other)}


def _machine(chance, number, place, metres, stops):
    """Seeder, its setting, the moment and the room of one run."""
    plan_of = setting("seeder")
    days, speed = plan_of["days"], plan_of["speed_km_h"]
    a_day = -(-len(_order()) // len(days))
    moment = at(days[place // a_day], plan_of["clock"], plan_of["minutes"] * (place % a_day))
    return {
        "trial_id": TRIAL, "method": RUN, "equipment_id": "seeder-1", "done_by": "thrift", "done_at": moment,
        "order_in_day": place % a_day + 1, "replicate": number, "setting": plan_of["setting"],
        "opening_mm": plan_of["opening_mm"], "meter_rpm": plan_of["meter_rpm"], "speed_km_h": speed, "length_m": metres,
        "width_m": plan_of["width_m"], "stops": stops,
        "seconds": round(metres * M_S / speed * chance.normal(1, 0.02) + STOP_S * stops, 1),
        "room_c": round(chance.normal(18.4, 0.3), 1), "room_rh": round(chance.normal(47, 2)), "status": "valid",
    }


def _moist(chance, taxon, name):
    pct = species(taxon)["hull_moisture_pct" if name == "T01" else "moisture_pct"]
    return round(chance.normal(pct, 0.1), 1)


def _row(chance, metres, cv):
    """Seed units metre by metre: Poisson counts whose mean is log-normal, so that mean and CV are those wanted.

    Variance is m + m^2 (exp(s^2) - 1), so exp(s^2) - 1 = cv^2 - 1/m.
    Source: Johnson, Kemp & Kotz 2005, Univariate Discrete Distributions, ch. 8 (mixed Poisson; from memory).
    """
    mean = truth()["seeder"]["units_a_metre"]
    square = log(1 + cv**2 - 1 / mean)
    return [_poisson(chance, mean * exp(chance.normal(0, square**0.5) - square / 2)) for _ in range(metres)]


def _poisson(chance, mean):
    """A Poisson number: how many even draws can be multiplied before they fall below exp(-mean)."""
    number, product, bound = 0, chance.share(), exp(-mean)
    while mean > 0 and product > bound:
        number, product = number + 1, product * chance.share()
    return number


def _flow(book, taxon, name, lot_id):
    """Density loose and tapped, angle and funnel of one material, three times each; the seed went back."""
    true, volume = truth()["seeder"]["flow"][taxon][name], setting("seeder")["volume_ml"][taxon]
    for replicate in range(1, FLOW_TIMES + 1):
        chance = Chance(book.seed, TRIAL, "flow", taxon, name, replicate)
        loose, tapped, angle, speed = (_near(chance, true[what]) for what in FLOW)
        poured = round(loose * volume, 3)
        measured = {
            BULK: {"equipment_id": "cylinder-1", "volume_ml": volume, "taps": 0},
            TAPPED: {"equipment_id": "cylinder-1", "volume_ml": round(poured / tapped, 2), "taps": 1250},
            ANGLE: {"equipment_id": "funnel-1", "angle_deg": round(angle, 1)},
            FUNNEL: {"equipment_id": "funnel-1", "opening_mm": 10, **_ran_out(poured, speed)},
        }
        moist = _moist(chance, taxon, name)
        for method, read in measured.items():
            book.add("handling_runs", handling_id=f"{TRIAL}-{method.split()[0]}-{lot_id}-{replicate}", trial_id=TRIAL,
                     lot_id=lot_id, treatment_id=f"{taxon}-{name}", method=method, done_by="fennel",
                     done_at=setting("seeder")["flow_on"], replicate=replicate, filled_g=poured, room_c=19.1, room_rh=46,
                     moisture_pct=moist, status="valid", order_in_day=_turn(taxon, name, replicate), **read)


def _near(chance, mean):
    return None if mean is None else mean * chance.normal(1, truth()["seeder"]["flow_cv"])


@cache
def _turns():
    every = [(t, a, n) for t, arms in truth()["seeder"]["flow"].items() for a in arms for n in range(1, FLOW_TIMES + 1)]
    return Chance(truth()["seed"]["value"], TRIAL, "order of flow").shuffled(every)


def _turn(*which):
    """Place in the day of one fill, drawn by lot; what was read of it was read together."""
    return _turns().index(which) + 1


def _ran_out(poured, speed):
    """How long it took to run out; what bridges over the opening never does."""
    if speed is None:
        return {"stops": 1, "delivered_g": 0, "notes": "Bridged over the opening and did not run.",
                "why_blank": "seconds: not applicable"}
    return {"stops": 0, "delivered_g": poured, "seconds": round(poured / speed, 2)}
