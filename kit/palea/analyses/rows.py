"""Results as rows of the table `results`."""

import pandas as pd

from palea import schema

# Which column of `results` holds which part of what an estimate is of; an effect's two sides lie side by side.
PLACES = {
    "taxon": "taxon_id", "lot": "lot_id", "environment": "environment_id",
    "treatment": "treatment_a", "a": "treatment_a", "b": "treatment_b",
    "contrast": "contrast_id", "material": "material_id", "part": "part_material_id",
}
SAME_NAME = (
    "quantity", "time", "denominator", "scale", "lower", "upper", "confidence", "unit", "df", "p_value",
    "n_batches", "n_units", "n_seeds", "rung", "margin", "verdict", "reason",
)


def rows_of(result):
    """A frame with the columns of `results`, one row an estimate, numbered from 1; analysis_id is still blank."""
    columns = list(schema.table("results").fields)
    rows = [_row(number, estimate) for number, estimate in enumerate(result.estimates, 1)]
    return pd.DataFrame(rows).reindex(columns=columns)


def _row(number, estimate):
    named = {name: getattr(estimate, name) for name in SAME_NAME}
    of = {PLACES[part]: ident for part, ident in estimate.of.items()}
    row = {"result_no": number, "estimate": estimate.value, "contrast_id": estimate.contrast, "status": "current"} | named | of
    return {name: None if value == "" else value for name, value in row.items()}
