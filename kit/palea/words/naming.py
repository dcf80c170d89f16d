"""What things are called: quantities and denominators in the schema's words, groups by the names handed in."""

import re

from palea import schema
from palea.calc.terms import Rung
from palea.words import numbers, prose

OF_A_PLACE = (Rung.PLOT, Rung.MAIN_PLOT, Rung.BLOCK)  # what is counted in the field is a plot, else a dish
ONE_BATCH = re.compile(r"These \w+ come from one batch: the answer holds for that batch, not yet for the recipe\.")
OUTDOORS, THROUGH_A_SEEDER = "field", "handling"


def called(names, key):
    """The name of a treatment as it stands inside a sentence, its id behind; the id alone where there is no name.

    >>> called({"AV-T03": "Brush machine"}, "AV-T03"), called({}, "AV-T03")
    ('brush machine (AV-T03)', 'AV-T03')
    """
    name = prose.inside(names[key]) if names.get(key) else key
    return name if key in name else f"{name} ({key})"


def plain_name(names, key):
    """The readable name alone, as it was typed: for a species or an environment, whose id tells a reader nothing."""
    return names.get(key) or key


def title(quantity):
    """A quantity as it stands inside a sentence: "normal seedlings"."""
    return prose.inside(schema.word("quantity", quantity)["title"])


def axis(quantity, denominator="", unit=""):
    """Axis title: the quantity, its unit and of what it is a share: "Germinated, % of filled units"."""
    word = schema.word("quantity", quantity)
    name = word.get("axis") or word["title"]
    if denominator:
        return f"{name}, % {of_what(denominator)}"
    unit = numbers.unit_word(unit)
    return name if not unit or name.endswith(unit) else f"{name}, {unit}"


def of_what(denominator):
    """A denominator behind a share: "of filled units"; "" where the quantity is no share."""
    return schema.word("denominator", denominator)["of"] if denominator else ""


def subject(quantity, denominator=""):
    """A quantity with its denominator: "normal seedlings of filled units"."""
    return f"{title(quantity)} {of_what(denominator)}".strip()


def is_time(quantity):
    """Whether a quantity is a time that can come later or earlier: it is measured in days."""
    return schema.word("quantity", quantity).get("unit") == "d"


def direction(quantity, value, none=0.0):
    """What a value above or below `none` is called for this quantity: "later", "less held in reserve"; "" at `none`."""
    word = schema.word("quantity", quantity)
    if value == none:
        return ""
    return word.get("higher_called" if value > none else "lower_called") or ("higher" if value > none else "lower")


def replication(estimate, batches=True):
    """How many stand behind an estimate: "4 batches, 16 dishes, 388 seeds"; what is unknown is left out."""
    unit, seed = behind(estimate.quantity)
    if getattr(estimate, "rung", "") in OF_A_PLACE:
        unit = schema.word("stage", OUTDOORS)["looked_at"]
    n_batches = estimate.n_batches if batches else 0
    parts = ((n_batches, "batch", "batches"), (estimate.n_units, *unit), (estimate.n_seeds, *seed))
    return ", ".join(prose.counted(*part) for part in parts if part[0])


def behind(quantity):
    """((unit, units), (seed, seeds)): what a number of that quantity stands on, in words."""
    word = schema.word("quantity", quantity)
    stage = schema.word("stage", word["stage"])
    return stage["looked_at"], word.get("holding") or stage["holding"]


def of_trial(quantity):
    """Whether a quantity is of dishes, plots or runs of a seeder, where a batch is what a treatment was made in."""
    stage = schema.word("quantity", quantity)["stage"]
    return stage == THROUGH_A_SEEDER or stage in ("germination", OUTDOORS)


def one_batch(quantity):
    """What a single batch means for an answer on that quantity."""
    return f"These {behind(quantity)[0][1]} come from one batch: the answer holds for that batch, not yet for the recipe."


def without_one_batch(quantity, text):
    """A reason without what it says of a single batch, whatever the units were called there; said by `one_batch` itself."""
    if of_trial(quantity):
        text = ONE_BATCH.sub("", text)
    return " ".join(text.replace(one_batch(quantity), "").split())


def place(of, names, several_environments=False):
    """Where a sentence holds: "Armeria maritima", with the environment where there is more than one."""
    taxon = plain_name(names, of["taxon"]) if of.get("taxon") else ""
    if several_environments and of.get("environment"):
        return f"{taxon} ({plain_name(names, of['environment'])})".strip()
    return taxon
