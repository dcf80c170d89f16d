"""Old results against new ones, row by row."""

import numpy as np
import pandas as pd

# Numbers computed twice from the same bytes by the same recipe differ only by the order of additions in another
# build of the numerical libraries; more than this is another result.
RELATIVE = 1e-6
ABSOLUTE = 1e-9
KEY = ("quantity", "taxon_id", "lot_id", "environment_id", "treatment_a", "treatment_b", "time", "denominator", "scale")
NUMBERS = ("estimate", "lower", "upper", "p_value", "df", "n_batches", "n_units", "n_seeds")
VERDICTS = ("identical", "within tolerance", "differs", "missing", "extra")


def compare(was, now):
    """One row a result of either side: group, was, now, relative_difference, verdict (of VERDICTS).

    was, now : frames with the columns of `results` of one analysis.  Rows meet by what they are of, not by number.
    """
    both = _keyed(was).merge(_keyed(now), on=[*KEY, "again"], how="outer", suffixes=("_was", "_now"), indicator=True)
    both = both.sort_values("order_was" if len(was) else "order_now", kind="stable", na_position="last")
    return pd.DataFrame(
        [_row(r) for r in both.to_dict("records")],
        columns=["quantity", "group", "was", "now", "relative_difference", "verdict"],
    )


def _keyed(results):
    """Rows with a key that is text all through, so that blanks meet blanks."""
    columns = [*KEY, *NUMBERS, "verdict"]
    frame = results.reindex(columns=columns).copy()
    for name in KEY:
        frame[name] = [_text(v) for v in frame[name]]
    for name in NUMBERS:
        frame[name] = pd.to_numeric(frame[name], errors="coerce").astype(float)
    frame["verdict"] = [_text(v) for v in frame["verdict"]]
    return frame.assign(again=frame.groupby(list(KEY)).cumcount(), order=np.arange(len(frame)))


def _text(value):
    if value is None or pd.isna(value) or value == "":
        return ""
    return f"{value:.10g}" if isinstance(value, int | float) else str(value)


def _row(r):
    group = ", ".join(r[k] for k in KEY[1:] if r[k])
    told = {
        "quantity": r["quantity"],
        "group": group,
        "was": _number(r["estimate_was"]),
        "now": _number(r["estimate_now"]),
    }
    if r["_merge"] != "both":
        return told | {"relative_difference": None, "verdict": "missing" if r["_merge"] == "left_only" else "extra"}
    old, new = (np.array([r[f"{n}_{side}"] for n in NUMBERS]) for side in ("was", "now"))
    apart = _relative(old, new)
    same_words = r["verdict_was"] == r["verdict_now"]
    close = np.allclose(old, new, rtol=RELATIVE, atol=ABSOLUTE, equal_nan=True)
    verdict = "differs" if not (same_words and close) else "identical" if apart == 0 else "within tolerance"
    return told | {"relative_difference": apart, "verdict": verdict}


def _relative(old, new):
    """Largest difference of the row's numbers relative to the old one; infinite where one side has none."""
    if (np.isnan(old) != np.isnan(new)).any():
        return float("inf")
    known = ~np.isnan(old)
    gap = np.abs(new[known] - old[known])
    scale = np.maximum(np.abs(old[known]), np.finfo(float).tiny)
    return float((gap / scale).max()) if known.any() and gap.any() else 0.0


def _number(value):
    return None if pd.isna(value) else float(value)
