"""Like runs as batches of one treatment: which they are, what went in, what came out."""

from collections import defaultdict
from dataclasses import dataclass

from palea import schema
from palea.record.lots import ids_told
from palea.record.spread import centre, known

PLACES = 1  # decimals of a percentage of mass


@dataclass(frozen=True)
class Batches:
    """Runs that did the same to seed of one species. treatment : the row of what was sown of it, None for nothing."""

    taxon: str
    kind: str
    treatment: dict | None
    runs: tuple[dict, ...]
    seed: tuple[dict, ...]
    product: tuple[dict, ...]
    rest: tuple[dict, ...]

    @property
    def id(self):
        """Id of the treatment, or of the runs where nothing was sown of them."""
        return self.treatment["treatment_id"] if self.treatment else ids_told([run["run_id"] for run in self.runs])

    @property
    def anchor(self):
        """Where what came out of these batches is told."""
        return f"batches-{self.treatment['treatment_id'] if self.treatment else self.runs[0]['run_id']}"

    @property
    def planned(self):
        """Build-up that was meant, %; None where none was."""
        return self.treatment["intended_build_up_pct"] if self.treatment else None

    def of(self, movements, run):
        """Of these movements, those of one run."""
        return [m for m in movements if m["run_id"] == run["run_id"]]


def all_batches(story, kinds):
    """Batches of runs of these kinds, by species in the order of taxa, then by treatment in the order of its table."""
    moved, grouped = _moved(story), defaultdict(list)
    treated = _treatments(story)
    for run in story.rows("runs"):
        if run["kind"] in kinds:
            grouped[_key(story, run, moved[run["run_id"]], treated)].append(run)
    taxa = [row["taxon_id"] for row in story.rows("taxa")]
    arms = [row["treatment_id"] for row in story.rows("treatments")]
    order = sorted(grouped, key=lambda k: (_at(taxa, k[0]), k[2] is None, _at(arms, k[2])))
    return [_batches(story, key, grouped[key], moved) for key in order]


def _at(names, name):
    return names.index(name) if name in names else len(names)


def _moved(story):
    moved = defaultdict(list)
    for movement in story.rows("movements"):
        moved[movement["run_id"]].append(movement)
    return moved


def _treatments(story):
    """{lot: treatment} of lots that were sown, and of lots of which a portion was."""
    treated = {u["lot_id"]: u["treatment_id"] for u in story.rows("units") if u["lot_id"]}
    portions = [(m["lot_id"], m["counterpart_lot_id"]) for m in story.rows("movements") if m["counterpart_lot_id"]]
    return {lot: treated[portion] for lot, portion in portions if portion in treated} | treated


def _key(story, run, moved, treated):
    made = [m["lot_id"] for m in moved if m["kind"] == "made"]
    lots = [story.row("lots", m["lot_id"]) for m in moved]
    taxon = next((lot["taxon_id"] for lot in lots if lot and lot["taxon_id"]), None)
    treatment = next((treated[lot] for lot in made if lot in treated), None)
    steps = tuple((s["action"], s["material_id"]) for s in story.steps(run["run_id"]))
    return taxon, run["kind"], treatment, "" if treatment else steps


def _batches(story, key, runs, moved):
    taxon, kind, treatment, _ = key
    runs = sorted(runs, key=lambda run: (run["started_at"] or "", run["line"]))
    all_moved = [m for run in runs for m in moved[run["run_id"]]]
    made = [m for m in all_moved if m["kind"] == "made"]
    product = [m for m in made if is_product(story, m)]
    return Batches(
        taxon,
        kind,
        story.row("treatments", treatment) if treatment else None,
        tuple(runs),
        seed=tuple(m for m in all_moved if m["kind"] == "drawn for run"),
        product=tuple(product),
        rest=tuple(m for m in made if m not in product),
    )


def is_product(story, movement):
    """Whether what was made is the main product, not waste or another fraction."""
    lot = story.row("lots", movement["lot_id"])
    return lot is None or lot["fraction"] is None or lot["fraction"] in schema.words("fraction", product=True)


def grams(movements):
    """Total mass, g; None where one was not weighed or there is none."""
    masses = [m["mass_g"] for m in movements]
    return sum(masses) if masses and None not in masses else None


def dry_grams(movements):
    """Total dry matter, g; None where a mass or a water content is not known."""
    if not movements or any(m["mass_g"] is None or m["moisture_pct"] is None for m in movements):
        return None
    return sum(m["mass_g"] * (1 - m["moisture_pct"] / 100) for m in movements)


def build_up(batches, run):
    """Coat put on, % of bare seed, both as dry matter: 100 (C - S) / S; None where one is unknown.

    Source: common practice, no source; on dry matter because wet mass passes for coat.
    """
    bare, coated = (dry_grams(batches.of(m, run)) for m in (batches.seed, batches.product))
    return 100 * (coated - bare) / bare if bare and coated is not None else None


def recovery(batches, run):
    """Clean seed out of seed as received in, % by mass as weighed; None where a mass is missing."""
    before, after = (grams(batches.of(m, run)) for m in (batches.seed, batches.product))
    return 100 * after / before if before and after is not None else None


def gain_told(batches, measure):
    """Mean and range over batches of a percentage; "" where it is known for none."""
    there = known(measure(batches, run) for run in batches.runs)
    return centre(there, 0 if there and min(there) >= 100 else PLACES)
