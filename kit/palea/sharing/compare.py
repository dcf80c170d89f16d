"""Old results against new ones, row by row, with a tolerance for each kind of column: counts and words none."""

import re

import numpy as np
import pandas as pd

from palea import schema
from palea.sharing.withheld import MARK

# Numbers computed twice from the same bytes by the same recipe differ only by the order of additions in another
# build of the numerical libraries; more than this is another result. Draws come from streams of bits that never change
# (palea.calc.stats.chance), so results that rest on a seed are given no more than the others.
RELATIVE = 1e-6
ABSOLUTE = 1e-9
KEY = ("quantity", "taxon_id", "lot_id", "environment_id", "treatment_a", "treatment_b", "time", "denominator", "scale",
       "material_id", "part_material_id")  # fmt: skip
COUNTS = ("n_batches", "n_units", "n_seeds")
NUMBERS = ("estimate", "lower", "upper", "confidence", "margin", "p_value", "df", *COUNTS)
TEXTS = ("verdict", "unit", "rung", "contrast_id")
REASON = schema.table("results")["reason"].title
LATER_TOLD = ("contrast_id",)  # not written down by earlier versions, so a blank one is no other one
NUMBER = re.compile(r"(\d+(?:\.\d+)?)")
AGREE = ("identical", "within tolerance")
VERDICTS = ("identical", "within tolerance", "differs", "missing", "extra")


def compare(was, now):
    """One row a result of either side: group, was, now, relative_difference, verdict (of VERDICTS), apart.

    apart : titles of the columns that differ beyond tolerance, as "Estimate, Lower end".  said_was, said_now : the reason
    beside it on either side.  reworded : whether those are others; the verdict is that of the numbers.
    was, now : frames with the columns of `results` of one analysis.  Rows meet by what they are of, not by number.
    """
    both = _keyed(was).merge(_keyed(now), on=[*KEY, "again"], how="outer", suffixes=("_was", "_now"), indicator=True)
    both = both.sort_values("order_was" if len(was) else "order_now", kind="stable", na_position="last")
    return pd.DataFrame(
        [_row(r) for r in both.to_dict("records")],
        columns=["quantity", "group", "was", "now", "relative_difference", "verdict", "apart", "unit", "said_was", "said_now",
                 "reworded"],
    ).astype({"reworded": bool})


def agree(compared):
    """Whether every number of a comparison came out again."""
    return bool(compared["verdict"].isin(AGREE).all())


def _keyed(results):
    """Rows with a key that is text all through, so that blanks meet blanks."""
    columns = [*KEY, *NUMBERS, *TEXTS, "reason"]
    frame = results.reindex(columns=columns).copy()
    for name in KEY:
        frame[name] = [_text(v) for v in frame[name]]
    for name in NUMBERS:
        frame[name] = pd.to_numeric(frame[name], errors="coerce").astype(float)
    for name in (*TEXTS, "reason"):
        frame[name] = [_text(v) for v in frame[name]]
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
        "unit": next((u for u in (r["unit_was"], r["unit_now"]) if isinstance(u, str) and u), ""),
    }
    if r["_merge"] != "both":
        verdict = "missing" if r["_merge"] == "left_only" else "extra"
        return told | {"relative_difference": None, "verdict": verdict, "apart": "", "reworded": False}
    old, new = (np.array([r[f"{n}_{side}"] for n in NUMBERS]) for side in ("was", "now"))
    apart, far = _relative(old, new), _apart(r, old, new)
    verdict = "differs" if far else "identical" if apart == 0 else "within tolerance"
    titles = ", ".join(schema.table("results")[name].title for name in far)
    said, says = r["reason_was"], r["reason_now"]
    return told | {"relative_difference": apart, "verdict": verdict, "apart": titles, "said_was": said, "said_now": says,
                   "reworded": not _same_words(said, says)}  # fmt: skip


def _same_words(was, now):
    """Whether two reasons are the same text; a number with decimals may be another in its last place, where it was rounded,
    and what was withheld before sharing may be anything.
    """
    if was == now:
        return True
    if MARK in was:
        return _around(was.split(MARK), now)
    old, new = NUMBER.split(was), NUMBER.split(now)
    return old[::2] == new[::2] and all(map(_rounded_alike, old[1::2], new[1::2]))


def _around(parts, text):
    """Whether a text consists of these parts, in their order, and of anything between them."""
    first, *between, last = parts
    if len(first) + len(last) > len(text) or not (text.startswith(first) and text.endswith(last)):
        return False
    at, end = len(first), len(text) - len(last)
    for part in between:
        found = text.find(part, at, end)
        if found < 0:
            return False
        at = found + len(part)
    return True


def _rounded_alike(old, new):
    places = {len(text.partition(".")[2]) for text in (old, new)}
    (last,) = places if len(places) == 1 else (0,)
    return old == new or (last > 0 and abs(float(old) - float(new)) < 1.5 * 10.0**-last)


def _apart(r, old, new):
    """Columns that differ by more than their kind may."""
    close = np.isclose(old, new, rtol=RELATIVE, atol=ABSOLUTE, equal_nan=True)
    close &= (old == new) | np.isnan(old) | ~np.isin(NUMBERS, COUNTS)
    far = [name for name, same in zip(NUMBERS, close, strict=True) if not same]
    told = [name for name in TEXTS if r[f"{name}_was"] or name not in LATER_TOLD]
    return far + [name for name in told if r[f"{name}_was"] != r[f"{name}_now"]]


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
