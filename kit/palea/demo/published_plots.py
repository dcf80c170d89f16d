"""A package made from an open dataset: soybean seed with and without a fungicide, in plots.

It is what an outsider can make of a dataset as it was shared: the counts are whole, and nearly nothing is told of what
was put on the seed, by whom and how much. What is not told stays blank, with the reason.
"""

import json
from importlib import resources

from palea.stamp import Stamp
from palea.tables import saving
from palea.tables.beginning import new_package

STAMP = Stamp("palea", "2026-09-01T09:00:00+00:00")
YEAR, TRIAL, SITE = "2018", "BOONE", "boone"
STAGES = ("VC", "V1", "R2", "R8")  # growth stages of soybean at which the plots were counted
ROWS = 2  # rows of a plot that were counted
ARMS = {False: "untreated", True: "treated"}
NOWHERE = "not recorded"


def write(folder):
    """Write the open dataset as a package -> Package. Every call gives the same bytes."""
    told = json.loads(resources.files("palea.demo").joinpath("seed_treatment.json").read_text(encoding="utf-8"))
    package = new_package(
        folder,
        "Soybean seed with and without a fungicide: plants standing in plots (open dataset)",
        STAMP,
        licence="CC0-1.0",
        description=f"{told['about']} {told['derived']} Source: {told['source']}. Data: {told['data']}.",
        keywords=("seed treatment", "open dataset", "field trial"),
    )
    for table, rows in _rows(told["plots"]).items():
        package = package.having(table, rows)
    sources = [{"title": told["source"]}, {"title": told["data"]}]
    package = package.describing(sources=sources, contributors=[{"title": "The palea authors"}])
    return saving.save(package, STAMP, "import", words=f"Taken in from {told['data']}.")


def _rows(plots):
    cultivars = sorted({plot[2] for plot in plots})
    return {**_seed(cultivars), **_plan(), **_field(plots)}


def _seed(cultivars):
    """Seed of each cultivar, as it was and treated. Who treated it, with how much and how, is not told."""
    lot = {"taxon_id": "SOY", "seed_unit": "seed", "prior_treatment": "unknown", "why_blank": f"source_kind: {NOWHERE}"}
    runs = [_run(cultivar) for cultivar in cultivars]
    moved = {"moved_at": YEAR}
    return {
        "people": [
            {
                "person_id": "SOURCE",
                "kind": "organisation",
                "name": "Authors of the dataset",
                "consent_to_publish": True,
            }
        ],
        "taxa": [
            {
                "taxon_id": "SOY",
                "scientific_name": "Glycine max",
                "authorship": "(L.) Merr.",
                "place_sensitivity": "none",
            }
        ],
        "lots": [lot | {"lot_id": f"{c}{end}", "notes": f"Cultivar {c}."} for c in cultivars for end in ("", "-T")],
        "movements": [
            m | moved
            for c, run in zip(cultivars, runs, strict=True)
            for m in (
                {"movement_id": f"{c}-in", "lot_id": c, "kind": "received"},
                {"movement_id": f"{c}-drawn", "lot_id": c, "kind": "drawn for run", "run_id": run["run_id"]},
                {"movement_id": f"{c}-made", "lot_id": f"{c}-T", "kind": "made", "run_id": run["run_id"]},
            )
        ],
        "materials": [
            {
                "material_id": "FUNGICIDE",
                "name": "fungicide for seed",
                "role": "active",
                "disclosure": "partly",
                "withheld_by": "SOURCE",
                "notes": "The source gives a trade name; it is left out here. Rate, formulation and carrier are not told.",
            }
        ],
        "runs": runs,
    }


def _run(cultivar):
    blank = (
        "ended_at",
        "place_kind",
        "room_c",
        "room_rh",
        "hands_on_min",
        "machine_min",
        "deviations",
        "risk_assessment",
    )
    return {
        "run_id": f"R-{cultivar}",
        "kind": "coat",
        "started_at": YEAR,
        "done_by": "SOURCE",
        "disclosure": "not asked",
        "status": "finished",
        "notes": "That the seed was treated with a fungicide is told, and nothing of how.",
        "why_blank": "; ".join(f"{c}: {NOWHERE}" for c in blank),
    }


def _plan():
    meant = f"coat_class: {NOWHERE}; route: {NOWHERE}; clean_method: not applicable; clean_to: not applicable"
    return {
        "treatments": [
            {"treatment_id": "untreated", "label": "untreated", "hull": "off", "role": "untouched", "why_blank": meant},
            {
                "treatment_id": "treated",
                "label": "treated with a fungicide",
                "hull": "off",
                "role": "test",
                "why_blank": meant,
            },
        ],
        "sites": [
            {
                "site_id": SITE,
                "name": "Boone, Iowa",
                "country": "US",
                "why_blank": f"soil: {NOWHERE}; habitat: {NOWHERE}",
            }
        ],
        "environments": [{"environment_id": "BOONE-2018", "trial_id": TRIAL, "site_id": SITE}],
        "trials": [
            {
                "trial_id": TRIAL,
                "title": "Fungicide on soybean seed, Boone 2018",
                "question": "Do more plants stand where the seed was treated?",
                "design": "split plot",
                "status": "finished",
                "notes": "The authors call it a split plot; which of the two factors lay on whole plots is not told here.",
                "why_blank": f"allocation_method: {NOWHERE}; random_seed: {NOWHERE}; time_zero: {NOWHERE}; "
                "germinated_when: not applicable",
            }
        ],
        "trial_outcomes": [
            {
                "trial_id": TRIAL,
                "outcome": "standing",
                "primary": True,
                "denominator": "sown units",
                "criterion": "plants counted in two rows of a plot",
            }
        ],
        "trial_factors": [{"trial_id": TRIAL, "factor": "product", "applied_to": "batch"}],
        "contrasts": [
            {
                "contrast_id": "C-1",
                "trial_id": TRIAL,
                "a": "treated",
                "b": "untreated",
                "asks_about": "product",
                "outcome": "standing",
                "kind": "superiority",
                "wanted": "higher",
                "primary": True,
                "declared_at": "2021",
                "notes": "The question of the source; when it was fixed is not told, the year is that of the publication.",
            }
        ],
    }


def _field(plots):
    """Plots and what stood in them. How many seeds were sown is only told as a rate of the machine, so it is blank."""
    names = [f"P{plot[0]}" for plot in plots]
    units = [
        {
            "unit_id": name,
            "trial_id": TRIAL,
            "kind": "plot",
            "treatment_id": ARMS[treated],
            "lot_id": f"{cultivar}{'-T' if treated else ''}",
            "environment_id": "BOONE-2018",
            "block": str(block),
            "placed_at": YEAR,
            "seeds_each": 1,
            "status": "in use",
            "notes": f"Cultivar {cultivar}.",
        }
        for name, (_, block, cultivar, treated, *_) in zip(names, plots, strict=True)
    ]
    visits = [
        {
            "visit_id": stage,
            "trial_id": TRIAL,
            "visited_at": YEAR,
            "visited_by": "SOURCE",
            "looked_for": "standing",
            "counting": "standing",
            "sheet": stage,
            "notes": f"Growth stage {stage}; the day is not told.",
            "why_blank": f"blind: {NOWHERE}",
        }
        for stage in STAGES
    ]
    counts = [
        {
            "visit_id": stage,
            "unit_id": name,
            "outcome": "standing",
            "taxon_id": "SOY",
            "observer": "SOURCE",
            "count": sum(plot[4 + ROWS * n : 4 + ROWS * (n + 1)]),
            "method": "seen",
        }
        for n, stage in enumerate(STAGES)
        for name, plot in zip(names, plots, strict=True)
    ]
    return {"units": units, "visits": visits, "counts": counts}
