"""The invented demo as it is written down: rows by table, and a ledger that knows what each lot holds."""

from collections import Counter, defaultdict
from hashlib import sha256

from palea import schema

FINE_G = 20.0  # up to here on the fine balance, above it on the scale


class Book:
    """Rows as they are entered, in order, and what each lot holds meanwhile.

    rows : {table: list of rows}.  files : {path in the package: bytes}.  seed : of the demo, for whoever needs a stream of chance.
    """

    def __init__(self, seed):
        self.seed = seed
        self.rows = defaultdict(list)
        self.files = {}
        self._unit_mg = {}
        self._held = Counter()
        self._entries = Counter()

    def add(self, table, **row):
        """Enter a row; a column that is not given stays blank."""
        self.rows[table].append(row)

    def attach(self, attachment_id, path, data, **row):
        """Put a file into the package, with its row."""
        self.files[path] = data
        self.add("attachments", attachment_id=attachment_id, path=path, sha256=sha256(data).hexdigest(), **row)

    def lot(self, lot_id, unit_mg, **row):
        """Enter a lot whose seed units weigh `unit_mg` each."""
        self._unit_mg[lot_id] = unit_mg
        self.add("lots", lot_id=lot_id, **{"status": "in use"} | row)

    def unit_mg(self, lot_id):
        """What one seed unit of a lot weighs."""
        return self._unit_mg[lot_id]

    def holds(self, lot_id):
        """Grams that a lot holds by the book."""
        return self._held[lot_id]

    def move(self, lot_id, moved_at, kind, *, grams=None, units=None, name=None, **more):
        """Enter a movement, by mass, or by number where the units were counted out. Returns its id.

        name : what it is called after the lot; else the next number.
        """
        mass = weighed(units * self._unit_mg[lot_id] / 1000 if grams is None else grams)
        self._entries[lot_id] += name is None
        movement_id = f"{lot_id}-{name or f'm{self._entries[lot_id]:02d}'}"
        word = schema.word("movement_kind", kind)
        self._held[lot_id] += mass * word["sign"]
        if "counterpart_lot_id" in more:
            self._held[more["counterpart_lot_id"]] += mass * word["counterpart_sign"]
        known = {"equipment_id": "balance-1" if mass <= FINE_G else "scale-1"} | more
        self.add("movements", movement_id=movement_id, lot_id=lot_id, moved_at=moved_at, kind=kind, mass_g=mass,
                 seed_units=units, **known)
        return movement_id

    def test(self, lot_id, quantity, tested_at, tested_by, *, replicates, out_of=None, name=None, **row):
        """Enter a test with its readings. replicates : one mapping {item: value} each.  name : where one is not enough."""
        test_id = f"Q-{lot_id}-{name or quantity.replace(' ', '-')}"
        self.add("tests", test_id=test_id, lot_id=lot_id, quantity=quantity, tested_at=tested_at, tested_by=tested_by,
                 status="valid", **row)
        for replicate, items in enumerate(replicates, 1):
            for item, value in items.items():
                self.add("readings", test_id=test_id, replicate=replicate, item=item, value=value,
                         unit=schema.word("reading_item", item)["unit"], out_of=out_of)


def items(quantity):
    """What is read in a test of that quantity."""
    return schema.word("test_quantity", quantity)["items"]


def weighed(grams):
    """A mass as the balance shows it: to 0.01 mg up to 20 g, to 0.01 g above."""
    return round(grams, 5 if grams <= FINE_G else 2)
