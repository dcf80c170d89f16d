"""What tests of lots found, from their readings: one phrase a test, one table for many."""

import math
from collections import defaultdict
from statistics import mean, stdev

from palea import schema
from palea.documents.page import Grid, Link, Row, reference
from palea.record.spread import centre, with_symbol
from palea.record.story import anchor
from palea.words.prose import counted, inside, listed

COUNTED = "1"  # UCUM code of a bare number
COLUMNS = 3  # tests beside each other in a table


def found(test, readings):
    """What a test found, in words, as far as its readings go; "" where there is none.

    test, readings : rows of the two tables.
    """
    told = [reading for reading in readings if reading["value"] is not None]
    if not told:
        return ""
    if any(reading["reported_only"] for reading in told):
        return listed(f"{_amount(r)} {inside(_item(r))}, reported without counts" for r in told)
    return BY_QUANTITY.get(test["quantity"], _counts_or_means)(told)


def _by_item(readings):
    items = defaultdict(list)
    for reading in readings:
        items[reading["item"]].append(reading)
    return items


def _thousand(readings):
    """Thousand-seed weight and variation between groups. Source: ISTA Rules, chapter 10 (weight determination)."""
    each = [1000 * r["value"] / r["out_of"] for r in readings if r["out_of"]]
    if not each:
        return _counts_or_means(readings)
    spread = f", CV {100 * stdev(each) / mean(each):.1f} %" if len(each) > 1 else ""
    return f"{mean(each):#.3g} g per 1000{spread}"


def _water(readings):
    """Water content, wet basis: mass lost over moist mass. Source: ISTA Rules, chapter 9 (moisture determination)."""
    items = {
        name: {(r["test_id"], r["replicate"]): r["value"] for r in rows} for name, rows in _by_item(readings).items()
    }
    tin, moist, dry = (items.get(n, {}) for n in schema.word("test_quantity", "moisture")["items"][:3])
    each = [100 * (moist[k] - dry[k]) / (moist[k] - tin[k]) for k in tin if k in moist and k in dry]
    return f"{centre(each, 1)} % of moist mass" if each else _counts_or_means(readings)


def _pure(readings):
    """Share of pure seed in the sum of the parts, by mass. Source: ISTA Rules, chapter 3 (purity analysis)."""
    grams = {name: sum(r["value"] for r in rows) for name, rows in _by_item(readings).items()}
    first, *_, sample = schema.word("test_quantity", "purity")["items"]
    parts = sum(mass for name, mass in grams.items() if name != sample)
    return f"{100 * grams[first] / parts:.1f} % pure seed by mass, of {parts:.3f} g" if grams.get(first) else ""


def _counts_or_means(readings):
    """Counts as shares of all that was looked at, each item of the same units; else mean and range of each item."""
    items = _by_item(readings)
    totals = {sum(r["out_of"] or 0 for r in rows) for rows in items.values()}
    counted_units = all(r["out_of"] and r["unit"] == COUNTED and r["value"] == int(r["value"]) for r in readings)
    if counted_units and len(totals) == 1:
        (n,) = totals
        shares = [(100 * sum(r["value"] for r in rows) / n, _kind(rows[0])) for rows in items.values()]
        return f"{listed(f'{share:.1f} % {inside(title)}' for share, title in shares if share)} of {n}"
    return listed(_measured(rows, alone=len(items) == 1) for rows in items.values())


def _measured(readings, *, alone):
    """Mean and range of measured values; named, where there is more than one thing measured."""
    return _amounts(readings) if alone else f"{inside(_item(readings[0]))} {_amounts(readings)}"


def _amounts(readings):
    values, unit = [r["value"] for r in readings], readings[0]["unit"] or ""
    return with_symbol(centre(values, _places(values)), unit)


def _places(values):
    """As many decimals as three digits of the mean need."""
    size = abs(mean(values))
    return max(0, 2 - math.floor(math.log10(size))) if size else 0


def _amount(reading):
    return with_symbol(f"{reading['value']:g}", reading["unit"] or "")


def _kind(reading):
    """What was counted, without the word for the things counted: “Viable seeds” is viable.

    The number of all things counted stands behind the shares.
    """
    title = _item(reading).removeprefix("Units ")
    first, _, rest = title.partition(" ")
    return first if rest in {"units", "seeds"} else title


def _item(reading):
    return schema.word("reading_item", reading["item"])["title"]


BY_QUANTITY = {"mass of units": _thousand, "moisture": _water, "purity": _pure}


def replicates(readings):
    """How many replicates, and of how many units where they were counted."""
    each = sorted({r["out_of"] for r in readings if r["out_of"]})
    n = len({r["replicate"] for r in readings})
    return f"{n} × {each[0]:.0f}" if len(each) == 1 else str(n or "")


def table(story, lots, caption, name):
    """A Grid of all tests of these lots, or None where there is none. name : anchor of the table."""
    tests = [test for test in story.rows("tests") if test["lot_id"] in lots]
    if not tests:
        return None
    rows = tuple(_row(story, test, story.readings(test["test_id"])) for test in tests)
    return Grid(caption, ("Lot", "Test", "Found (replicates)", "Method", "By, on"), rows, name)


def _row(story, test, readings):
    key = test["test_id"]
    who = story.person(test["tested_by"]) if test["tested_by"] else story.cell("tests", test, "tested_by", key)
    when = (test["tested_at"] or "")[:10] or story.cell("tests", test, "tested_at", key)
    machine = (", ", story.machine(test["equipment_id"])) if test["equipment_id"] else ""
    told, of = found(test, readings), replicates(readings)
    cells = (
        Link(test["lot_id"], anchor("lots", test["lot_id"])),
        schema.word("test_quantity", test["quantity"])["title"],
        f"{told} ({of})" if told and of else told,
        (story.cell("tests", test, "method", key), machine),
        (who, ", ", when),
    )
    return Row(cells, anchor("tests", key))


def summary(story, every, caption, name):
    """Grids: tests on the products of these batches, a row a treatment, a column a test.

    name : anchor of the first; `how` leads to it.
    """
    found_in, quantities = _found(story, every)
    for number, some in enumerate(quantities[i : i + COLUMNS] for i in range(0, len(quantities), COLUMNS)):
        titles = [schema.word("test_quantity", q)["title"] for q in some]
        rows = [
            Row((key, *(_found_in(story, tests.get(q, ())) for q in some)))
            for key, tests in found_in.items()
            if any(q in tests for q in some)
        ]
        more = ", continued" if number else ""
        yield Grid(
            f"{caption}: all lots of a treatment together{more}",
            ("Treatment", *titles),
            tuple(rows),
            f"{name}-{number + 1}",
        )


def _found(story, every):
    """({treatment: {quantity: tests}}, quantities, those tested of most treatments first)."""
    found_in = {batches.id: _by_quantity(story, batches) for batches in every}
    found_for = {q: sum(q in tests for tests in found_in.values()) for q in schema.words("test_quantity")}
    return found_in, sorted((q for q, n in found_for.items() if n), key=lambda q: -found_for[q])


def _by_quantity(story, batches):
    lots, tests = {m["lot_id"] for m in batches.product}, defaultdict(list)
    for test in story.rows("tests"):
        if test["lot_id"] in lots:
            tests[test["quantity"]].append(test)
    return tests


def _found_in(story, tests):
    readings = [r for test in tests for r in story.readings(test["test_id"]) if r["value"] is not None]
    return found(tests[0], readings) if readings else ""


def how(story, every, name):
    """Runs that say what was tested of the products of these batches and how, and lead to the tables; () for no test."""
    found_in, quantities = _found(story, every)
    told = []
    for quantity in quantities:
        tests = [t for by_quantity in found_in.values() for t in by_quantity.get(quantity, ())]
        methods = dict.fromkeys(t["method"] for t in tests if t["method"])
        title = inside(schema.word("test_quantity", quantity)["title"])
        lots = counted(len({t["lot_id"] for t in tests}), "lot")
        told.append(f"{title} ({'; or '.join(methods) or 'method not told'}; {lots})")
    return (f"Tested were: {listed(told)}. What was found stands in ", reference(f"{name}-1"), ".") if told else ()
