"""Batches: how much stayed on the seed, and whether they were dried and weighed so that it can be told."""

from palea import schema
from palea.checks.examples import dish, examined, lot, moved, run, several, stepped, treated
from palea.checks.rule import rule
from palea.derived.ledger import run_masses
from palea.derived.lookup import numbers, texts

# Mass of coat per mass of bare seed, %, as each class usually has it: common practice, no source. Bands overlap widely,
# since a class goes by what stays visible.
USUAL = {"film": (0.0, 30.0)} | {"encrusted": (5.0, 500.0), "pellet": (50.0, 20000.0)}
OFF = 0.5  # share of an intended build-up that may be missing or too much before it is told; common practice, no source
POINTS = 3.0
WATER = 1.02


def _coated(out_g, coat_class="encrusted", meant=100.0, moisture=9.0, status="finished", **more):
    """100 g of seed at 9 % water, coated to `out_g`."""
    return several(
        lot("AV-0", seed_unit="seed"), lot("AV-1", seed_unit=coat_class),
        {"runs": [{"run_id": "R1", "kind": "coat", "started_at": "2025-02-01", "status": status} | more]},
        moved("drawn for run", "AV-0", mass_g=100.0, moisture_pct=9.0, run_id="R1"),
        moved("made", "AV-1", mass_g=out_g, moisture_pct=moisture, run_id="R1"),
        treated("T06", intended_build_up_pct=meant), dish(treatment="T06"),
    )  # fmt: skip


def _build_up(runs, movements, lots, run_masses):
    """Coating runs whose masses are known as dry matter: build_up in % of the seed put in, lot and class of the product.

    Every fraction counts, waste too: what was sorted out was coated as well. The index is that of runs.
    """
    known = run_masses.set_index("run")
    known = known[~(known["moist_in"].astype(bool) | known["moist_out"].astype(bool)) & (known["dry_g_in"] > 0)]
    coats = runs[runs["kind"].eq("coat").fillna(value=False) & runs["run_id"].isin(known.index)]
    product = lots["fraction"].isna() | lots["fraction"].isin(schema.words("fraction", product=True))
    made = movements[movements["kind"].eq("made").fillna(value=False) & movements["lot_id"].isin(lots.loc[product, "lot_id"])]
    lot_id = texts(coats["run_id"], made.set_index("run_id")["lot_id"])
    seed_unit = texts(lot_id, lots.set_index("lot_id")["seed_unit"])
    of_unit = {w: schema.word("seed_unit", w).get("coat_class") for w in schema.words("seed_unit")}
    gained = 100 * (known["dry_g_out"] / known["dry_g_in"] - 1)
    return coats.assign(build_up=numbers(coats["run_id"], gained).round(1), lot_id=lot_id, coat_class=texts(seed_unit, of_unit))


@rule(
    "coating.build-up-outside-class", severity="warning", reads=("runs", "movements", "lots", run_masses), at="runs.run_id",
    says="Run {run_id}: the build-up of lot {lot_id} is {build_up} %, but its class is {coat_class}. What is visible of the "
    "seed?",
    remedy="The class goes by what stays visible: correct it, or look for a slip in the masses.",
    fires=_coated(710.0), nearly=_coated(260.0),
)  # fmt: skip
def build_up_outside_class(runs, movements, lots, run_masses):
    """Film coats weigh little, pellets several times the seed; the bands are wide."""
    told = _build_up(runs, movements, lots, run_masses)
    least, most = (told["coat_class"].map({c: ends[n] for c, ends in USUAL.items()}).astype(float) for n in (0, 1))
    return told[(told["build_up"] < least) | (told["build_up"] > most)]


@rule(
    "coating.build-up-not-as-meant", severity="warning",
    reads=("runs", "movements", "lots", run_masses, "units", "treatments"), at="runs.run_id",
    says="Run {run_id}: treatment {treatment_id} means a build-up of {meant} %; lot {lot_id} has {build_up} %.",
    remedy="Say in the deviations why it stopped short or went on; compare treatments by what is on the seed.",
    fires=_coated(130.0), nearly=_coated(190.0),
)  # fmt: skip
def build_up_not_as_meant(runs, movements, lots, run_masses, units, treatments):
    """Half as much again or half of it is another coat."""
    told = _build_up(runs, movements, lots, run_masses)
    sown = units.dropna(subset=["lot_id"]).drop_duplicates("lot_id").set_index("lot_id")["treatment_id"]
    told = told.assign(treatment_id=texts(told["lot_id"], sown))
    told = told.assign(meant=numbers(told["treatment_id"], treatments.set_index("treatment_id")["intended_build_up_pct"]))
    off = (told["build_up"] - told["meant"]).abs()
    return told[(off > OFF * told["meant"]) & (off > POINTS) & told["deviations"].isna()]


@rule(
    "coating.bare-seed-gained", severity="warning", reads=("runs", "movements", "lots", "run_steps", run_masses), at="runs.run_id",
    says="Run {run_id}: mass rose by {gained} % on bare seed after drying. Compare at equal water content.",
    remedy="Read the water content with each mass; then seed that is only moist is not taken for seed that was coated.",
    fires=several(_coated(104.1, "seed", moisture=None), stepped("R1", {"action": "dry"})),
    nearly=several(_coated(104.1, "seed", moisture=12.5), stepped("R1", {"action": "dry"})),
)  # fmt: skip
def bare_seed_gained(runs, movements, lots, run_steps, run_masses):
    """Nothing was put on, so what was gained is water: told where one of the two water contents is not known."""
    bare = lots["lot_id"][lots["seed_unit"].isin([w for w in schema.words("seed_unit") if "hull" in schema.word("seed_unit", w)])]
    made = movements[movements["kind"].eq("made").fillna(value=False)]
    coated = made.loc[~made["lot_id"].isin(bare), "run_id"].dropna()
    dried = run_steps.loc[run_steps["action"].eq("dry").fillna(value=False), "run_id"]
    masses = run_masses.set_index("run")[lambda m: m["moist_in"] | m["moist_out"]]
    gained = (100 * (masses["mass_g_out"] / masses["mass_g_in"] - 1)).round(1)
    told = runs.assign(gained=numbers(runs["run_id"], gained))
    wetted = told["kind"].isin(("coat", "soak")) & told["run_id"].isin(dried) & ~told["run_id"].isin(coated)
    return told[wetted & (told["gained"] > 100 * (WATER - 1))]


def _told(runs):
    """Runs that are finished and whose recipe is not kept back."""
    hidden = runs["disclosure"].isin(schema.words("disclosure", reported=False))
    return runs[runs["status"].isin(schema.words("run_status", gives_seed=True)) & ~hidden]


@rule(
    "coating.never-dried", severity="gap", reads=("runs", "run_steps", "movements"), at="runs.run_id",
    says="Run {run_id} wetted seed, and neither a drying step nor the water content of what came out is recorded.",
    remedy="Enter how it was dried and to what; seed that is put away moist ages fast, and its water is taken for coat.",
    fires=several(_coated(190.0, moisture=None), stepped("R1", {"action": "wet"})),
    nearly=several(_coated(190.0, moisture=None), stepped("R1", {"action": "wet"}, {"action": "surface dry"})),
)  # fmt: skip
def never_dried(runs, run_steps, movements):
    """A coat is put on with liquid; a later run that dries its product answers too."""
    wet = run_steps.loc[run_steps["action"].eq("wet").fillna(value=False), "run_id"]
    dry = run_steps.loc[run_steps["action"].isin(("dry", "surface dry")), "run_id"]
    made = movements[movements["kind"].eq("made").fillna(value=False)]
    drawn = movements[movements["kind"].eq("drawn for run").fillna(value=False)]
    dried_later = drawn.loc[drawn["run_id"].isin(runs.loc[runs["kind"].eq("dry").fillna(value=False), "run_id"]), "lot_id"]
    answered = made.loc[made["moisture_pct"].notna() | made["lot_id"].isin(dried_later), "run_id"]
    asked = _told(runs)
    asked = asked[asked["kind"].eq("coat").fillna(value=False) & asked["run_id"].isin(wet)]
    return asked[~asked["run_id"].isin(dry) & ~asked["run_id"].isin(answered.dropna())]


@rule(
    "coating.weighed-without-water", severity="gap", reads=("movements", "runs", "lots", "tests"), at="movements.moisture_pct",
    says="Lot {lot_id} came out of coating run {run_id} with {mass_g} g, and its water content is not known: build-up cannot be "
    "told from water.",
    remedy="Enter the water content that was read with the mass, or test the lot's moisture.",
    fires=_coated(190.0, moisture=None), nearly=_coated(190.0),
)  # fmt: skip
def weighed_without_water(movements, runs, lots, tests):
    """Build-up is a matter of dry matter."""
    coats = _told(runs).loc[lambda r: r["kind"].eq("coat").fillna(value=False), "run_id"]
    product = lots.loc[lots["fraction"].isna() | lots["fraction"].isin(schema.words("fraction", product=True)), "lot_id"]
    tested_so = tests.loc[tests["quantity"].eq("moisture").fillna(value=False), "lot_id"]
    made = movements["kind"].eq("made").fillna(value=False) & movements["run_id"].isin(coats) & movements["lot_id"].isin(product)
    unknown = movements["moisture_pct"].isna() & ~movements["lot_id"].isin(tested_so)
    return movements[made & unknown & movements["mass_g"].notna()]


def _soaked(*tests):
    return several(lot("AV-0"), lot("AV-1"), run("R1", "AV-0", "AV-1", kind="soak"), *tests)


@rule(
    "coating.uptake-unmeasured", severity="gap", reads=("runs", "movements", "tests", "run_steps"), at="runs.run_id",
    says="Run {run_id} soaked seed of lot {lot_id}, and nothing says how much solution it took up: its dose is not known.",
    remedy="Weigh the seed before the soak and after rolling it on paper, and enter the uptake as a test of the lot.",
    fires=_soaked(),
    nearly=_soaked(examined("AV-1", "solution uptake", {"uptake": 0.5})),
)  # fmt: skip
def uptake_unmeasured(runs, movements, tests, run_steps):
    """Uptake times strength is the upper bound of the dose; seed weighed after draining answers too."""
    soaks = _told(runs)
    soaks = soaks[soaks["kind"].eq("soak").fillna(value=False)]
    measured = tests.loc[tests["quantity"].isin(schema.words("test_quantity", gives="uptake")), "lot_id"]
    assayed = tests.loc[tests["quantity"].isin(schema.words("test_quantity", gives="dose")), "lot_id"]
    out_of = movements[movements["kind"].eq("made").fillna(value=False)].drop_duplicates("run_id").set_index("run_id")["lot_id"]
    out = run_steps[run_steps["action"].isin(("drain", "surface dry"))].groupby("run_id")["step"].min()
    weighed = run_steps[run_steps["action"].eq("weigh") & run_steps["amount"].notna()]
    after = weighed.loc[weighed["step"] > numbers(weighed["run_id"], out), "run_id"]
    told = soaks.assign(lot_id=texts(soaks["run_id"], out_of))
    known = told["lot_id"].isin({*measured, *assayed}) | told["run_id"].isin(after)
    return told[told["lot_id"].notna() & ~known]


RULES = (build_up_outside_class, build_up_not_as_meant, bare_seed_gained, never_dried, weighed_without_water, uptake_unmeasured)
