"""What came out of a run: lines of lots that it made, each weighed, as a sheet below the steps."""

from palea import schema
from palea.bench import proposals
from palea.panels.form import choices_of
from palea.panels.lines import Lines
from palea.tables import formats

COLUMNS = {  # name of the column: the table that its field is of
    "lot_id": "lots", "fraction": "lots", "seed_unit": "lots", "mass_g": "movements", "moisture_pct": "movements",
}  # fmt: skip


class Products(Lines):
    """Lines of products. facts : a function that gives the facts of the run as they are typed."""

    def __init__(self, package, typed, facts):
        super().__init__(package, "lots", tuple(COLUMNS), typed=typed, least=3)
        self.facts = facts

    def rows(self, package, run, facts):
        """[(row of lots, row of movements)] of every line with a mass or an id; an id that is blank is proposed."""
        source = proposals.row_as_texts(package, "lots", facts.get("movements.lot_id", ""))
        made, taken = [], set()
        for line in self._filled():
            texts = {name: self.typed.get((line, name), "") for name in COLUMNS}
            lot = {n: t for n, t in texts.items() if COLUMNS[n] == "lots"}
            lot["lot_id"] = lot["lot_id"] or self._named(source, facts, taken)
            taken.add(lot["lot_id"])
            lot |= {"taxon_id": source.get("taxon_id", ""), "source_kind": "made here", "status": "in use"}
            lot["seed_unit"] = lot["seed_unit"] or source.get("seed_unit", "")
            move = {n: t for n, t in texts.items() if COLUMNS[n] == "movements"} | {
                "lot_id": lot["lot_id"], "kind": "made", "run_id": run, "moved_by": facts.get("done_by", ""),
                "moved_at": (facts.get("ended_at") or facts.get("started_at", ""))[:10],
            }  # fmt: skip
            made.append((lot, move))
        return made

    def _named(self, source, facts, taken):
        """A free id after the label of the batch, else after the lot that went in."""
        head = facts.get("batch_label") or source.get("lot_id") or "lot"
        known = set(self.package["lots"]["lot_id"].dropna()) | taken
        names = (head, *(f"{head}-{n}" for n in range(2, len(known) + 3)))
        return next(name for name in names if name not in known)

    def _column(self, name):
        field = schema.table(COLUMNS[name])[name]
        options = choices_of(field)
        kind = {"kind": "choice", "options": options} if options else {"kind": "entry" if name == "lot_id" else "count"}
        return {"name": name, "title": field.label, "label": field.label, **kind}

    def _wrong(self, line, name):
        text = self.typed.get((line, name), "")
        return formats.parse(schema.table(COLUMNS[name])[name], text)[1] if text.strip() else ""
