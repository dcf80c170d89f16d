"""Lines of a walk forward: a lot, what was drawn of it and for what, and the same of every lot that came of it."""

from collections import defaultdict

from palea import schema
from palea.record.passage import Path, amount, first_and_last, how, many, span
from palea.words import numbers
from palea.words.prose import counted, listed


class Onward(Path):
    """Makes the lines of a walk forward."""

    def onward(self, key, depth=0):
        """A lot, what was done with it, and the same of every lot that came of it."""
        row = self.story.row("lots", key)
        if row is None or key in self.passed:
            return
        self.passed[key] = None
        yield self.line(depth, self.lot_told(row), "lots", row)
        after = []
        for (kind, _), some in _alike(self.out_of[key]).items():
            if kind == "moved to lot":
                yield self.moved(
                    depth,
                    some[0],
                    f"{amount(some[0]) or 'seed'} moved on into {some[0]['counterpart_lot_id']}{how(some[0])}",
                )
                after.append(some[0]["counterpart_lot_id"])
            elif kind == "drawn for run":
                after += yield from self._used(depth, some)
            elif kind not in ("made", "received"):
                yield self._several(depth, kind, some)
        yield from self._tested(depth, key)
        yield from self._sown(depth, key)
        for lot in dict.fromkeys(after):
            if lot in self.passed:
                yield self.line(depth + 1, f"{lot} is told above", "lots", self.story.row("lots", lot))
            yield from self.onward(lot, depth + 1)

    def _used(self, depth, some):
        """Lines of what went into one run, and of the run. Returns the lots that it made."""
        key = some[0]["run_id"]
        for m in some:
            yield self.moved(depth, m, f"{amount(m) or 'seed'} of it went into the run {key}")
        run = self.story.row("runs", key)
        if run:
            by = run["done_by"] or run["contractor"]
            yield self.line(depth, self.run_told(run), "runs", run, run["started_at"], by)
        return [m["lot_id"] for m in self.by_run[key] if m["kind"] == "made"]

    def _several(self, depth, kind, some):
        masses = [m["mass_g"] for m in some]
        total = sum(masses) if None not in masses else None
        told = [schema.word("movement_kind", kind)["title"]]
        told[0] += f": {some[0]['trial_id']}" if some[0]["trial_id"] else ""
        told += [counted(len(some), "time")] if len(some) > 1 else []
        told += [f"{numbers.short(total)} g{' in all' if len(some) > 1 else ''}"] if total is not None else []
        when, by = span([m["moved_at"] for m in some]), [m["moved_by"] for m in some]
        return self.line(depth, ", ".join(told), "movements", some, when, by, total)

    def _tested(self, depth, key):
        tests = self.story.rows("tests", lot_id=key)
        if tests:
            about = listed(dict.fromkeys(self.story.value("tests", t, "quantity") for t in tests))
            yield self.line(
                depth,
                f"{counted(len(tests), 'test')} of {about}",
                "tests",
                tests,
                span([t["tested_at"] for t in tests]),
            )

    def _sown(self, depth, key):
        """Units sown of a lot, a line a trial and treatment; their counts, plants and the results that name them."""
        groups = defaultdict(list)
        for unit in self.story.rows("units", lot_id=key):
            groups[unit["trial_id"], unit["treatment_id"]].append(unit)
        for (trial, treatment), some in groups.items():
            ids = {u["unit_id"] for u in some}
            yield self.line(
                depth,
                f"{many(some)} of trial {trial} were sown with it, as treatment {treatment}:"
                f" {first_and_last(some, 'unit_id')}",
                "units",
                some,
                span([u["placed_at"] for u in some]),
            )
            counts = [c for i in ids for c in self.story.rows("counts", unit_id=i)]
            if counts:
                counts.sort(key=lambda c: c["line"])
                yield self.line(
                    depth, f"{counted(len(counts), 'count')} were made in them", "counts", counts, self.visited(counts)
                )
            plants = sorted((p for i in ids for p in self.story.rows("plants", unit_id=i)), key=lambda p: p["line"])
            if plants:
                yield self.line(depth, f"{counted(len(plants), 'plant')} were followed one by one", "plants", plants)
            yield from self._told(depth, trial, treatment)

    def _told(self, depth, trial, treatment):
        of_trial = {a["analysis_id"]: a for a in self.story.rows("analyses", trial_id=trial)}
        mine = [
            r
            for r in self.story.rows("results")
            if r["analysis_id"] in of_trial and treatment in (r["treatment_a"], r["treatment_b"])
        ]
        for name in dict.fromkeys(r["analysis_id"] for r in mine):
            some = [r for r in mine if r["analysis_id"] == name]
            yield self.line(
                depth,
                f"{counted(len(some), 'result')} of {name} name {treatment}",
                "results",
                some,
                of_trial[name]["ran_at"],
            )


def _alike(movements):
    """Movements out of a lot, one a run and counterpart; draws for tests and sowings in one trial together."""
    found = defaultdict(list)
    for m in movements:
        found[m["kind"], m["run_id"] or m["counterpart_lot_id"] or m["trial_id"]].append(m)
    return found
