"""Where seed came from, what it is, what it cost: what cannot be so, and what a reader needs and is not told."""

from palea import schema
from palea.calc.spans import earliest, latest
from palea.checks.examples import lot, moved, several
from palea.checks.rule import rule
from palea.derived.lookup import texts
from palea.derived.spoken import surely_before, unsaid


@rule(
    "lots.collected-after-received",
    severity="error",
    reads=("lots", "movements"),
    at="lots.collected_from",
    needs="movements",
    says="Lot {lot_id} was received on {received_at}, before it was collected on {collected_from}.",
    remedy="Look whether day and month were swapped in one of the two dates.",
    fires=several(lot("AV-0", collected_from="2025-06"), moved("received", "AV-0", "2025-02-01", 50)),
    nearly=several(lot("AV-0", collected_from="2025-02"), moved("received", "AV-0", "2025-02-01", 50)),
)
def collected_after_received(lots, movements):
    """Seed is collected before it arrives; partial dates are spans."""
    came = movements[movements["kind"].eq("received")].drop_duplicates("lot_id").set_index("lot_id")["moved_at"]
    received = texts(lots["lot_id"], came)
    return lots.assign(received_at=received)[earliest(lots["collected_from"]) > latest(received)]


@rule(
    "lots.collected-backwards",
    severity="error",
    reads=("lots",),
    at="lots.collected_to",
    says="Collecting of lot {lot_id} ended on {collected_to}, before it began on {collected_from}.",
    remedy="Swap the two dates, or look whether day and month were swapped in one.",
    fires=lot("AV-0", collected_from="2024-07-20", collected_to="2024-07-10"),
    nearly=lot("AV-0", collected_from="2024-07-20", collected_to="2024-07"),
)
def collected_backwards(lots):
    """The last day of collecting is not before the first."""
    return lots[surely_before(lots["collected_to"], lots["collected_from"])]


@rule(
    "lots.half-a-point",
    severity="error",
    reads=("lots",),
    at="lots.latitude",
    says="Lot {lot_id} has only one of latitude and longitude, so it has no place on a map.",
    remedy="Enter the other one, or take both out.",
    fires=lot("AV-0", latitude=52.4),
    nearly=lot("AV-0", latitude=52.4, longitude=-5.6),
)
def half_a_point(lots):
    """A point has two coordinates."""
    return lots[lots["latitude"].isna() != lots["longitude"].isna()]


@rule(
    "lots.point-without-radius",
    severity="gap",
    reads=("lots",),
    at="lots.coordinate_uncertainty_m",
    says="Lot {lot_id} has a point, {latitude}, {longitude}, and nothing says how far off the true place may be.",
    remedy="Enter the radius within which the place surely lies: 10 m by satellite, often kilometres from a place name.",
    fires=lot("AV-0", latitude=52.4, longitude=-5.6),
    nearly=lot("AV-0", latitude=52.4, longitude=-5.6, coordinate_uncertainty_m=250),
)
def point_without_radius(lots):
    """Coordinates mean nothing without their uncertainty."""
    point = lots["latitude"].notna() & lots["longitude"].notna()
    return lots[point & unsaid(lots, "coordinate_uncertainty_m")]


@rule(
    "lots.place-without-country",
    severity="gap",
    reads=("lots",),
    at="lots.country",
    says="Lot {lot_id} names a place of collection and no country.",
    remedy="Enter the two letters of ISO 3166-1.",
    fires=lot("AV-0", place="Kettle Down"),
    nearly=lot("AV-0", place="Kettle Down", country="IE"),
)
def place_without_country(lots):
    """Names of places come again from country to country."""
    placed = lots["place"].notna() | lots["latitude"].notna()
    return lots[placed & unsaid(lots, "country")]


@rule(
    "lots.wild-without-permit",
    severity="gap",
    reads=("lots",),
    at="lots.permit",
    says="Lot {lot_id} was collected in the wild, and neither a permit nor a reason why none is needed is recorded.",
    remedy="Enter the number of the permit, or write why none is needed.",
    fires=lot("AV-0", source_kind="wild harvest"),
    nearly=lot("AV-0", source_kind="wild harvest", permit="none needed, own land"),
)
def wild_without_permit(lots):
    """Seed of wild plants is collected under a permit, or somebody knows why not."""
    return lots[lots["source_kind"].eq("wild harvest").fillna(value=False) & unsaid(lots, "permit")]


@rule(
    "lots.price-without-currency",
    severity="error",
    reads=("lots",),
    at="lots.currency",
    says="The price of lot {lot_id} is {price}, in no currency.",
    remedy="Enter the three letters of ISO 4217, as EUR.",
    fires=lot("AV-0", price=95),
    nearly=lot("AV-0", price=95, currency="EUR"),
)
def price_without_currency(lots):
    """An amount of money without its currency is a number without a unit."""
    return lots[lots["price"].notna() & unsaid(lots, "currency")]


@rule(
    "lots.price-without-basis",
    severity="warning",
    reads=("lots",),
    at="lots.price_basis",
    says="The price of lot {lot_id} is {price} {currency}: per kg of product, or per kg of pure live seed?",
    remedy="Say which; the two differ by as much as purity and viability do.",
    fires=lot("AV-0", price=95, currency="EUR"),
    nearly=lot("AV-0", price=95, currency="EUR", price_basis="per kg PLS"),
)
def price_without_basis(lots):
    """A price is for a mass of something. Where even the currency is missing, that is told."""
    return lots[lots["price"].notna() & lots["currency"].notna() & unsaid(lots, "price_basis")]


def _taxa(*rows):
    return {"taxa": [{"taxon_id": f"T{n}", "scientific_name": name} | more for n, (name, more) in enumerate(rows)]}


@rule(
    "lots.taxon-twice",
    severity="warning",
    reads=("taxa",),
    at="taxa.scientific_name",
    says="{scientific_name} stands here twice, as {first} and as {taxon_id}: their counts would never be put together.",
    remedy="Keep one of the two and point all lots and counts to it.",
    fires=_taxa(("Anthyllis vulneraria", {}), ("Anthyllis  vulneraria ", {})),
    nearly=_taxa(("Anthyllis vulneraria", {"authorship": "L."}), ("Anthyllis vulneraria", {"authorship": "Mill."})),
)
def taxon_twice(taxa):
    """One name, one row; the same name by two authors is two names."""
    plain = taxa["scientific_name"].str.split().str.join(" ").str.casefold()
    keys = plain + "|" + taxa["authorship"].fillna("")
    first = taxa["taxon_id"].groupby(keys).transform("first")
    return taxa.assign(first=first)[keys.duplicated().fillna(value=False) & plain.notna()]


@rule(
    "lots.sensitivity-not-said",
    severity="gap",
    reads=("taxa", "lots"),
    at="taxa.place_sensitivity",
    says="Places where {scientific_name} was collected are recorded (lot {lot_id}), and nothing says how exactly they may be "
    "published.",
    remedy="Enter none if the plant is not at risk; else a shared copy makes its places coarse.",
    fires=several(_taxa(("Anthyllis vulneraria", {})), lot("AV-0", "T0", latitude=52.4, longitude=-5.6)),
    nearly=several(_taxa(("Anthyllis vulneraria", {"place_sensitivity": "none"})), lot("AV-0", "T0", latitude=52.4)),
)
def sensitivity_not_said(taxa, lots):
    """Whoever shares must know whether the place of a rare plant is given away."""
    placed = lots[lots["place"].notna() | lots["latitude"].notna()].dropna(subset=["taxon_id"])
    lot_id = texts(taxa["taxon_id"], placed.set_index("taxon_id")["lot_id"])
    return taxa.assign(lot_id=lot_id)[lot_id.notna() & taxa["place_sensitivity"].isna()]


@rule(
    "lots.received-by-nobody",
    severity="gap",
    reads=("lots", "movements"),
    at="lots.source_kind",
    needs="movements",
    says="Lot {lot_id} is said to come from {source_kind}, but no movement says when it was received.",
    remedy="Enter its receipt with day and mass; stock, price and age are counted from there.",
    fires=several(lot("AV-0", source_kind="purchased"), moved("weighed", "AV-0", mass_g=5)),
    nearly=several(lot("AV-0", source_kind="purchased"), moved("received", "AV-0", mass_g=5)),
)
def received_by_nobody(lots, movements):
    """Seed from outside came on a day; a portion of it was moved over. A lot without any movement has a rule of its own."""
    outside = lots["source_kind"].isin(schema.words("source_kind", received=True))
    came = movements.loc[movements["kind"].isin(("received", "returned")), "lot_id"]
    moved_over = movements["counterpart_lot_id"].dropna()
    named = lots["lot_id"].isin(movements["lot_id"])
    return lots[outside & named & ~lots["lot_id"].isin({*came, *moved_over})]


RULES = (collected_after_received, collected_backwards, half_a_point, point_without_radius, place_without_country,
         wild_without_permit, price_without_currency, price_without_basis, taxon_twice, sensitivity_not_said,
         received_by_nobody)  # fmt: skip
