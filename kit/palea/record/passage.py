"""Lines of a walk back: a result, plant, unit or lot, and how each lot came about, down to the seed as it was collected."""

import math
from collections import defaultdict
from dataclasses import dataclass

from palea import schema
from palea.documents.page import said
from palea.record.lots import whence
from palea.record.spread import duration, with_symbol
from palea.words import naming, numbers
from palea.words.prose import capital, counted, inside, listed, stop

SETTINGS = ("concentration", "temperature_c", "duration_s", "speed_rpm", "air_flow_l_min", "passes", "ph")


@dataclass(frozen=True)
class Line:
    """One step of a walk.

    depth : how many lots away from where the walk began.  what : a sentence.  when, who : "" where not recorded.
    table, rows : where it stands, as a spreadsheet numbers rows.  key : id of the row.  grams : None where not known.
    """

    depth: int
    what: str
    table: str
    rows: tuple[int, ...]
    key: str
    when: str = ""
    who: str = ""
    grams: float | None = None


class Path:
    """Makes the lines of one walk, and remembers which lots it has told."""

    def __init__(self, story):
        self.story, self.passed = story, {}
        self.into, self.out_of, self.by_run = defaultdict(list), defaultdict(list), defaultdict(list)
        for row in story.rows("movements"):
            self.out_of[row["lot_id"]].append(row)
            self.by_run[row["run_id"]].append(row)
            if row["counterpart_lot_id"]:
                self.into[row["counterpart_lot_id"]].append(row)

    def line(self, depth, what, table, rows, when="", who="", grams=None):
        """A Line of one row, or of several that say the same."""
        rows = rows if isinstance(rows, list) else [rows]
        key = "/".join(str(rows[0][k]) for k in schema.table(table).primary_key)
        return Line(
            depth, capital(stop(what)), table, tuple(r["line"] for r in rows), key, when or "", self.who(who), grams
        )

    def who(self, keys):
        """Names of one person or several, as far as they may be told."""
        keys = keys if isinstance(keys, list) else [keys]
        return listed(dict.fromkeys(self.story.person(key) for key in keys if key))

    # Where a walk begins

    def results(self, asked):
        """A kept result, its analysis, and the units and lots it rests on."""
        analysis, _, number = asked.rpartition("/")
        row = next(r for r in self.story.rows("results", analysis_id=analysis) if str(r["result_no"]) == number)
        parent = self.story.row("analyses", analysis)
        yield self.line(0, _result(row), "results", row, parent and parent["ran_at"])
        if parent:
            yield self.line(
                0,
                f"it is an answer of {parent['recipe']}, version {parent['version']}",
                "analyses",
                parent,
                parent["ran_at"],
            )
        sides = [t for t in (row["treatment_a"], row["treatment_b"]) if t]
        units = [u for u in self.story.rows("units") if u["lot_id"] and _behind(row, parent, sides, u)]
        lots = defaultdict(list)
        for unit in units:
            lots[unit["lot_id"]].append(unit)
        for lot, some in lots.items():
            yield self.line(
                0,
                f"it rests on {many(some)} sown with {lot}, {first_and_last(some, 'unit_id')}",
                "units",
                some,
                span([u["placed_at"] for u in some]),
            )
        for lot in lots or [row["lot_id"]] * bool(row["lot_id"]):
            yield from self.lots(lot, 1)

    def plants(self, key):
        """A plant, then its unit."""
        row = self.story.row("plants", key)
        told = self.story.value("plants", row, "fate")
        end = f", {told}{' ' + row['fate_at'] if row['fate_at'] else ''}" if told else ""
        yield self.line(0, f"plant {key} stood in {row['unit_id']}{end}", "plants", row, row["tagged_at"])
        yield from self.units(row["unit_id"])

    def units(self, key):
        """A unit, the counts made in it, then the lot sown in it."""
        row = self.story.row("units", key)
        if row is None:
            return
        kind = self.story.value("units", row, "kind")
        sown = f"{counted(row['sown_n'], 'seed')} of " if row["sown_n"] else ""
        arm = self.story.row("treatments", row["treatment_id"])
        called = (
            f", treatment {row['treatment_id']} ({inside(arm['label'].rstrip('.'))})" if arm and arm["label"] else ""
        )
        lot = f"was sown with {sown}{row['lot_id']}" if row["lot_id"] else "was not sown itself"
        yield self.line(0, f"the {kind} {key} of trial {row['trial_id']} {lot}{called}", "units", row, row["placed_at"])
        counts = self.story.rows("counts", unit_id=key)
        if counts:
            yield self.line(
                0,
                f"{counted(len(counts), 'count')} were made in it",
                "counts",
                counts,
                self.visited(counts),
                counts[0]["observer"],
            )
        if row["parent_unit_id"]:
            yield from self.units(row["parent_unit_id"])
        if row["lot_id"]:
            yield from self.lots(row["lot_id"], 1)

    def visited(self, counts):
        """When counts were made, as a span."""
        return span([v["visited_at"] for c in counts if (v := self.story.row("visits", c["visit_id"]))])

    # Back

    def lots(self, key, depth=0):
        """A lot, how it came about, and the same of the lots it was made of."""
        row = self.story.row("lots", key)
        if row is None or key in self.passed:
            return
        self.passed[key] = None
        yield self.line(depth, self.lot_told(row), "lots", row)
        before = []
        for movement in self.out_of[key]:
            if movement["kind"] == "received":
                yield self._arrived(depth, row, movement)
            elif movement["kind"] == "made":
                yield self.moved(
                    depth, movement, f"it came out of the run {movement['run_id']}{amount(movement, ': ')}"
                )
                before += yield from self._run(movement["run_id"], depth)
        for movement in self.into[key]:
            yield self.moved(
                depth, movement, f"{amount(movement) or 'seed'} came into it from {movement['lot_id']}{how(movement)}"
            )
            before.append(movement["lot_id"])
        for lot in dict.fromkeys(before):
            if lot in self.passed:
                yield self.line(depth + 1, f"{lot} is told above", "lots", self.story.row("lots", lot))
            yield from self.lots(lot, depth + 1)

    def lot_told(self, row):
        """What a lot is, in words."""
        fraction = f", {self.story.value('lots', row, 'fraction')}" if row["fraction"] else ""
        unit = self.story.value("lots", row, "seed_unit")
        lies = f", lying in the bag as {unit}" if unit else ""
        return f"lot {row['lot_id']}: {said(self.story.species(row['taxon_id']))}{fraction}{lies}"

    def _arrived(self, depth, lot, movement):
        giver = f" from {self.who(movement['counterpart_person'])}" if movement["counterpart_person"] else ""
        return self.moved(
            depth, movement, f"{amount(movement) or 'seed'} was received{giver}. {said(whence(self.story, lot))}"
        )

    def moved(self, depth, movement, what):
        """The line of a movement of seed."""
        return self.line(
            depth, what, "movements", movement, movement["moved_at"], movement["moved_by"], movement["mass_g"]
        )

    def _run(self, key, depth):
        """Lines of a run: itself, what was drawn for it, its steps. Returns the lots that were drawn for it."""
        run = self.story.row("runs", key)
        if run is None:
            return []
        yield self.line(depth, self.run_told(run), "runs", run, run["started_at"], run["done_by"] or run["contractor"])
        drawn = [m for m in self.by_run[key] if m["kind"] == "drawn for run"]
        for movement in drawn:
            yield self.moved(depth, movement, f"{amount(movement) or 'seed'} of {movement['lot_id']} went into it")
        for step in self.story.steps(key):
            yield self.line(depth, self._step(step), "run_steps", step, step["started_at"], run["done_by"])
        return [m["lot_id"] for m in drawn]

    def run_told(self, run):
        """What a run is, in words."""
        kind = self.story.value("runs", run, "kind")
        by = f" by procedure {run['protocol_id']}, version {run['version']}" if run["protocol_id"] else ""
        where = self.story.value("runs", run, "place_kind")
        hidden = schema.words("disclosure", reported=False)
        kept = ", its recipe withheld" if run["disclosure"] in hidden else ""
        return f"run {run['run_id']}: {kind}{by}{f', {where}' if where else ''}{kept}"

    def _step(self, step):
        fields = schema.table("run_steps")
        action = self.story.value("run_steps", step, "action")
        amount = _unit(step["amount"], step["unit"])
        material = self.story.brief(step["material_id"]) if step["material_id"] else ""
        with_what = " of ".join(filter(None, (amount, material)))
        machine = said(self.story.machine(step["equipment_id"])) if step["equipment_id"] else ""
        settings = [
            duration(step[c])
            if c == "duration_s"
            else _unit(step[c], step["concentration_unit"])
            if c == "concentration"
            else f"pH {numbers.short(step[c])}"
            if c == "ph"
            else counted(step[c], "pass", "passes")
            if c == "passes"
            else with_symbol(numbers.short(step[c]), fields[c].unit)
            for c in SETTINGS
            if step[c] is not None
        ]
        cycle = f", cycle {step['cycle']}" if step["cycle"] else ""
        parts = [f"step {step['step']}{cycle}: {action}", with_what, machine, *settings, step["end_point"] or ""]
        return ", ".join(filter(None, parts))


def _behind(result, analysis, sides, unit):
    """Whether a unit stands behind a result: its trial, species, place, treatments and lot, as far as the result names them."""
    trial = analysis and analysis["trial_id"]
    named = ((trial, "trial_id"), (result["environment_id"], "environment_id"), (result["lot_id"], "lot_id"))
    return all(not value or unit[column] == value for value, column in named) and (
        unit["treatment_id"] in sides if sides else bool(trial or result["lot_id"])
    )


def _result(row):
    quantity = inside(naming.title(row["quantity"]))
    sides = " against ".join(t for t in (row["treatment_a"], row["treatment_b"]) if t)
    of = sides or row["lot_id"] or row["taxon_id"] or "the package"
    value = f"{row['scale']} " if row["scale"] not in (None, "value") else ""
    ends = (row["lower"], row["upper"])
    at, number = row["estimate"], "no value"
    places = 0 if at is None else numbers.places(at, *((math.nan, math.nan) if None in ends else ends))
    if at is not None:
        number = with_symbol(numbers.plain(at, places), row["unit"]) if row["unit"] else numbers.plain(at, places)
    within = "" if None in ends else f" ({numbers.interval(*ends, places)})"
    verdict = f", {row['verdict']}" if row["verdict"] else ""
    return f"{quantity} of {of}: {value}{number}{within}{verdict}"


def _unit(value, unit):
    return "" if value is None else with_symbol(numbers.short(value), unit) if unit else numbers.short(value)


def amount(movement, before=""):
    """“12.5 g, 400 units” of a movement, after `before`; "" where neither is known."""
    grams = _unit(movement["mass_g"], "g")
    units = counted(movement["seed_units"], "unit") if movement["seed_units"] is not None else ""
    told = ", ".join(filter(None, (grams, units)))
    return f"{before}{told}" if told else ""


def span(moments):
    """From the first to the last day of some moments; "" where none is known.

    >>> span(["2024-03-18T09:30", None, "2024-01-26"]), span(["2024-03"])
    ('2024-01-26 to 2024-03-18', '2024-03')
    """
    days = sorted({m[:10] for m in moments if m})
    return f"{days[0]} to {days[-1]}" if len(days) > 1 else "".join(days)


def how(movement):
    """How seed was drawn, after a comma; "" where it is not known."""
    return f", {movement['drawn_how']}" if movement["drawn_how"] else ""


def many(units):
    """Units counted by kind: “16 dishes”."""
    kinds = dict.fromkeys(u["kind"] for u in units)
    return listed(counted(sum(u["kind"] == k for u in units), *_plural(k)) for k in kinds)


def _plural(kind):
    title = inside(schema.word("unit_kind", kind)["title"])
    return title, f"{title}es" if title.endswith(("sh", "ch", "s", "x")) else f"{title}s"


def first_and_last(rows, column):
    """The first and the last id of some rows."""
    return rows[0][column] if len(rows) == 1 else f"{rows[0][column]} to {rows[-1][column]}"
