"""Answers that were kept, when ids got other words: they rest on the same data, and say so.

The hash of what an answer rests on follows the ids. Numbers do not hang on names, but draws do: each group has a random
stream of its own name. So what is drawn about a renamed thing is drawn anew, and told.
"""

from palea.analyses import catalogue, keep
from palea.analyses.run import Subjects, together
from palea.errors import PaleaError
from palea.sharing import recorded
from palea.sharing.compare import agree, compare


def followed(before, fit, renamed):
    """(`fit` with the hashes of its answers brought up to date, the Outcomes that are to be kept in place of others).

    before : the package with the ids as they were.  renamed : {table: {old: new}}.  An answer that was older than its data
    before stays so.
    """
    rows = fit["analyses"].copy()
    old_trial = {new: old for old, new in renamed.get("trials", {}).items()}
    fresh = {new for ids in renamed.values() for new in ids.values()}
    of_before, of_fit = Subjects(before), Subjects(fit)
    ask, anew = together(of_fit), []
    for line, row in rows.to_dict("index").items():
        try:
            asked = recorded.of(row)
            was = of_before.fingerprint(old_trial.get(asked.trial, asked.trial or ""), asked.reads)
            now = of_fit.fingerprint(asked.trial or "", asked.reads)
        except (PaleaError, KeyError):
            continue  # a row that cannot be followed is told by the check
        if asked.data_hash and was == asked.data_hash and was != now:
            rows.loc[line, "data_hash"] = now
            outcome = _drawn_anew(fit, asked, fresh, ask)
            anew += [outcome] if outcome is not None else []
    return fit.replacing("analyses", rows), anew


def _drawn_anew(fit, asked, fresh, ask):
    """The Outcome of an answer about renamed things that rests on draws, where they came out otherwise; None else."""
    kept = fit["results"][fit["results"]["analysis_id"].eq(asked.analysis_id).fillna(value=False)]
    if not kept.select_dtypes("string").isin(fresh).to_numpy().any():
        return None
    try:
        if "seed" not in catalogue.find(asked.recipe, asked.version).options:
            return None
        outcome = recorded.run_again(fit, asked, ask)
    except PaleaError:
        return None  # it cannot be had any more; a rerun says why
    if outcome.refused or keep.analysis_id(outcome) != asked.analysis_id:
        return None  # what was published stays; a rerun says why it does not come out
    return None if agree(compare(kept, outcome.results)) else outcome
