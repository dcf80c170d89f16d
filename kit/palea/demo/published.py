"""A package made from a published table, on which the same commands give the published numbers.

What the source does not tell stays blank, with the reason: nothing is filled in to look complete.
"""

import json
from importlib import resources

from palea.analyses.germination import FINAL
from palea.stamp import Stamp
from palea.tables import saving
from palea.tables.beginning import new_package

STAMP = Stamp("palea", "2026-09-01T09:00:00+00:00")
PRINTED = "1978"
TOLD_NOWHERE = "not recorded"


def write_crowder(folder):
    """Write the seed germination table of Crowder (1978) as a package -> Package. Every call gives the same bytes.

    Raises PackageError where the folder holds something already.
    """
    told = json.loads(resources.files("palea.demo").joinpath("crowder.json").read_text(encoding="utf-8"))
    package = new_package(
        folder,
        "Germination of Orobanche aegyptiaca on two root extracts (published table)",
        STAMP,
        licence="CC0-1.0",
        description=f"{told['about']} Source: {told['source']}. The numbers are facts of the published table; their "
        "arrangement as a package is dedicated to the public domain.",
        keywords=("seed germination", "published data", "overdispersion"),
    )
    for table, rows in _rows(told).items():
        package = package.having(table, rows)
    package = package.describing(sources=[{"title": told["source"]}], contributors=[{"title": "The palea authors"}])
    return saving.save(package, STAMP, "import", words=f"Typed in from {told['source']}.")


def _rows(told):
    lots = list(dict.fromkeys(lot for lot, *_ in told["plates"]))
    extracts = list(dict.fromkeys(extract for _, extract, *_ in told["plates"]))
    arms = [(lot, extract) for lot in lots for extract in extracts]
    return {
        "people": [
            {
                "person_id": "SOURCE",
                "kind": "organisation",
                "name": "Authors of the published table",
                "consent_to_publish": True,
            }
        ],
        "taxa": [
            {
                "taxon_id": "OA",
                "scientific_name": "Orobanche aegyptiaca",
                "authorship": "Pers.",
                "place_sensitivity": "none",
                "notes": "Name as in the source; the authorship is added here.",
            }
        ],
        "lots": [
            {
                "lot_id": lot,
                "taxon_id": "OA",
                "seed_unit": "seed",
                "prior_treatment": "unknown",
                "notes": f"Strain {lot} of the source.",
                "why_blank": f"source_kind: {TOLD_NOWHERE}",
            }
            for lot in lots
        ],
        "materials": [
            {
                "material_id": extract.upper(),
                "name": f"root extract of {extract}",
                "role": "active",
                "disclosure": "partly",
                "withheld_by": "SOURCE",
                "notes": "Dilution not told.",
            }
            for extract in extracts
        ],
        "treatments": [
            {
                "treatment_id": f"{lot}-{extract}",
                "label": f"{extract} root extract, strain {lot}",
                "role": "reference" if extract == extracts[0] else "test",
            }
            for lot, extract in arms
        ],
        "treatment_actives": [
            {"treatment_id": f"{lot}-{extract}", "material_id": extract.upper(), "basis": "solution strength"}
            for lot, extract in arms
        ],
        "trials": [
            {
                "trial_id": "PLATES",
                "title": "Two strains on two root extracts",
                "question": "Does the root extract change how much seed germinates, in each strain?",
                "design": "completely randomised",
                "germinated_when": "radicle visible",
                "status": "finished",
                "notes": "The criterion is assumed; the table says “germinated”.",
            }
        ],
        "trial_outcomes": [
            {
                "trial_id": "PLATES",
                "outcome": "germinated",
                "primary": True,
                "denominator": "sown units",
                "criterion": "germinated, as the source says",
            }
        ],
        "trial_factors": [{"trial_id": "PLATES", "factor": "root extract", "applied_to": "dish"}],
        "contrasts": [
            {
                "contrast_id": f"C-{lot}",
                "trial_id": "PLATES",
                "a": f"{lot}-{extracts[1]}",
                "b": f"{lot}-{extracts[0]}",
                "asks_about": "active",
                "outcome": "germinated",
                "kind": "superiority",
                "wanted": "higher",
                "primary": False,
                "declared_at": PRINTED,
            }
            for lot in lots
        ],
        "units": [
            {
                "unit_id": f"P{n:02d}",
                "trial_id": "PLATES",
                "kind": "dish",
                "treatment_id": f"{lot}-{extract}",
                "lot_id": lot,
                "sown_n": seeds,
                "seeds_each": 1,
                "status": "in use",
                "placed_at": PRINTED,
            }
            for n, (lot, extract, _, seeds) in enumerate(told["plates"], 1)
        ],
        "visits": [
            {
                "visit_id": "PRINTED",
                "trial_id": "PLATES",
                "visited_at": PRINTED,
                "visited_by": "SOURCE",
                "looked_for": "germinated",
                "counting": "cumulative",
                "notes": "The day of the count is not told; this is the year of print.",
            }
        ],
        "counts": [
            {
                "visit_id": "PRINTED",
                "unit_id": f"P{n:02d}",
                "outcome": "germinated",
                "taxon_id": "OA",
                "observer": "SOURCE",
                "count": germinated,
            }
            for n, (_, _, germinated, _) in enumerate(told["plates"], 1)
        ],
        "analyses": [
            {
                "analysis_id": "PLATES-germination.final",
                "recipe": "germination.final",
                "version": str(FINAL.version),
                "trial_id": "PLATES",
                "options": "{}",
                "planned_at": "2026-09-01",
            }
        ],
    }
