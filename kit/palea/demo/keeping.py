"""Keeping seed in the invented demo: samples set aside, portions in two stores, and where every lot lies."""

from palea.demo.chance import Chance
from palea.demo.lots import one_batch
from palea.demo.setting import laid_down, setting
from palea.demo.truth import truth

SHELF_LIFE = "G5"
IN_BAG = ("main", "keep-sample")


def kept_back(book, taxon):
    """Samples of the lots from which every trial of one batch is sown, sealed before anything else leaves them."""
    plan = setting("keeps")
    for lot_id, grams in plan["grams"].items():
        if lot_id.startswith(f"{taxon}-"):
            _part(book, lot_id, f"{lot_id}-keep", plan["on"], grams, fraction="keep-sample", keep_of=lot_id,
                  notes=plan["notes"])


def put_into_stores(book, taxon):
    """Portions of the lots whose shelf life is asked about, one a store, with their water read by a meter."""
    plan, fillings = truth()["germination"][SHELF_LIFE], laid_down(SHELF_LIFE)["fillings"]
    for name in plan["arms"].get(taxon, ()):
        mother, start = one_batch(taxon, name), fillings["m00"]["sown_on"]
        _metered(book, mother, name, "", "m00", start)
        for store in truth()["ageing"]["months_a_probit"]:
            lot_id = f"{mother}-{store}"
            _part(book, mother, lot_id, start, setting("stores")[store]["grams"][name],
                  notes=f"For {SHELF_LIFE}: {setting('stores')[store]['place']}, paper bag.")
            for filling, when in fillings.items():
                if store in plan["environments"][filling]["stores"]:
                    _metered(book, lot_id, name, store, filling, when["sown_on"])


def _part(book, lot_id, into, on, grams, **row):
    """Move a part of a lot into a lot of its own."""
    of = next(lot for lot in book.rows["lots"] if lot["lot_id"] == lot_id)
    book.lot(into, book.unit_mg(lot_id), taxon_id=of["taxon_id"], seed_unit=of["seed_unit"], source_kind="made here",
             **row)
    book.move(lot_id, on, "moved to lot", grams=grams, counterpart_lot_id=into, drawn_how="divider", moved_by="fennel")


def _metered(book, lot_id, name, store, filling, on):
    """Water content as the meter shows it, three times."""
    true, chance = truth()["ageing"]["meter_pct"][store][name], Chance(book.seed, "meter", lot_id, filling)
    read = [{"meter": round(chance.normal(true, 0.1), 1)} for _ in range(3)]
    drawn = book.move(lot_id, on, "drawn for test", grams=setting("metered_g")[name], drawn_how="spoon",
                      primary_samples=3, moved_by="fennel")
    book.test(lot_id, "moisture", on, "fennel", method=setting("meter_method"), equipment_id="meter-1", movement_id=drawn,
              replicates=read, name=f"moisture-{filling}")


def stored(book):
    """Where each lot lay, from the day it came or was made; what was thrown away or used up has its end."""
    came, went = {}, {}
    for move in book.rows["movements"]:
        into = move["counterpart_lot_id"] if "counterpart_lot_id" in move else move["lot_id"]
        came.setdefault(into, move["moved_at"])
        went[move["lot_id"]] = move["moved_at"]
    for lot in book.rows["lots"]:
        if lot.get("fraction") in (None, *IN_BAG):
            _row(book, lot, came[lot["lot_id"]], went)


def _row(book, lot, since, went):
    store = next((s for s in setting("stores") if s and lot["lot_id"].endswith(f"-{s}")), _usual(lot))
    row = {column: value for column, value in setting("stores")[store].items() if column != "grams"}
    used_up = lot["status"] != "in use"
    book.add("storage", storage_id=f"S-{lot['lot_id']}", lot_id=lot["lot_id"], from_at=since,
             to_at=went.get(lot["lot_id"]) if used_up else None, **row)


def _usual(lot):
    """Received lots lie in cloth in the seed room, all else is sealed."""
    return "received" if "source_kind" in lot and lot["source_kind"] == "wild harvest" else "sealed"
