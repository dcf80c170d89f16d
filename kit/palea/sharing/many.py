"""Evidence over several packages: their kept results laid together by species, factor asked about and outcome, and pooled.

Packages have ids of their own, so questions meet by what they are about: the species' scientific name, the factor that
the contrast asks about, what was judged and of what, and under which kind of conditions. What does not meet anything else
is listed with the reason; nothing is dropped in silence.
"""

import json
from dataclasses import dataclass, replace

import pandas as pd

from palea.calc.decision.evidence import pool_evidence
from palea.calc.results import Refusal
from palea.derived.facts import plain
from palea.words import say

QUESTION = ["species", "asks_about", "quantity", "denominator", "scale", "unit"]
COLUMNS = [
    *QUESTION, "package", "trial", "environment", "a", "b", "value", "lower", "upper", "confidence", "df", "n_batches", "n_units",
]  # fmt: skip


SAME_DATA = "another of the packages holds the same data; the same seed counted twice looks like more evidence than there is."


@dataclass(frozen=True)
class Pooled:
    """effects : frame, one row an effect that could be pooled (COLUMNS).  answers : [(question as a dict, Result)].

    left_out : frame, one row an effect that was not: package, trial, what, why.
    """

    effects: pd.DataFrame
    answers: tuple
    left_out: pd.DataFrame

    def told(self):
        """Sentences: each question with its pooled mean, then what was left out."""
        for question, result in self.answers:
            yield f"{question['species']}, {question['asks_about']}, {question['quantity']}:"
            yield from (f"  {sentence}" for sentence in say(result, {}))
            yield from (f"  Bear in mind: {w}" for w in result.warnings)
        for why, rows in self.left_out.groupby("why", sort=False):
            yield f"Not pooled, {len(rows)}: {why}"

    def as_json(self):
        """Everything as plain data."""
        return {
            "pooled": [{**q, "sentences": say(r, {}), "warnings": list(r.warnings)} for q, r in self.answers],
            "effects": _records(self.effects), "left_out": _records(self.left_out),
        }  # fmt: skip


def pool(packages, confidence=0.95):
    """Pool the kept results of several packages. packages : Packages, at least two. Returns a Pooled."""
    told = [_effects(package) for package in packages]
    parts = [effects for effects, _ in told if len(effects)]
    found = pd.concat(parts, ignore_index=True) if parts else pd.DataFrame(columns=[*COLUMNS, "data"])
    out = [row for _, rows in told for row in rows]
    twice = found.duplicated([*QUESTION, "environment", "a", "b", "data"])
    out += [_left(row, SAME_DATA) for row in found[twice].to_dict("records")]
    found = found[~twice]
    answers, kept = [], []
    for key, rows in found.groupby(QUESTION, sort=True, dropna=False):
        question = dict(zip(QUESTION, key, strict=True))
        if rows["package"].nunique() < 2:
            out += [_left(row, "only one package asked this of this species.") for row in rows.to_dict("records")]
            continue
        rows = rows.assign(taxon=rows["species"], trial=rows["package"] + ", " + rows["trial"]).reset_index(drop=True)
        result = pool_evidence(rows, confidence)
        if isinstance(result, Refusal):
            out += [_left(row, f"{result.missing} {result.remedy}") for row in rows.to_dict("records")]
            continue
        answers.append((question, _named(result, question)))
        kept.append(rows)
    effects = pd.concat(kept, ignore_index=True)[COLUMNS] if kept else pd.DataFrame(columns=COLUMNS)
    return Pooled(effects, tuple(answers), pd.DataFrame(out, columns=["package", "trial", "what", "why"]))


def _named(result, question):
    """The pooled effects named after the factor that was asked about, since each package has treatments of its own."""
    told = {"a": question["asks_about"], "b": "its control", "taxon": question["species"]}
    return replace(result, effects=tuple(replace(e, of=dict(e.of) | told) for e in result.effects))


def write(pooled, folder):
    """effects.csv, left_out.csv and pooled.json in a folder, which is made; the folder."""
    folder.mkdir(parents=True, exist_ok=True)
    pooled.effects.to_csv(folder / "effects.csv", index=False, lineterminator="\n")
    pooled.left_out.to_csv(folder / "left_out.csv", index=False, lineterminator="\n")
    text = json.dumps(pooled.as_json(), ensure_ascii=False, indent=1, allow_nan=False)
    (folder / "pooled.json").write_text(text + "\n", encoding="utf-8")
    return folder


def _effects(package):
    """(effects of declared contrasts with an interval, what is left out with its reason) of one package's kept results."""
    results, name = plain(package["results"]), package.title
    asked = results[results["treatment_b"].notna() & results["verdict"].notna()]
    contrasts = plain(package["contrasts"]).drop_duplicates(["trial_id", "a", "b"]).set_index(["trial_id", "a", "b"])["asks_about"]
    species = plain(package["taxa"]).drop_duplicates("taxon_id").set_index("taxon_id")["scientific_name"]
    analyses = plain(package["analyses"]).drop_duplicates("analysis_id").set_index("analysis_id")
    trial = analyses["trial_id"]
    if asked.empty:
        why = "no result of a declared contrast is kept; run palea analyse first."
        return pd.DataFrame(columns=[*COLUMNS, "data"]), [{"package": name, "trial": "", "what": "all of it", "why": why}]
    names = {"quantity": "quantity", "scale": "scale", "value": "estimate", "lower": "lower", "upper": "upper", "df": "df",
             "confidence": "confidence", "n_batches": "n_batches", "n_units": "n_units"}  # fmt: skip
    texts = {"denominator": "denominator", "unit": "unit", "environment": "environment_id", "a": "treatment_a",
             "b": "treatment_b", "verdict": "verdict", "reason": "reason"}  # fmt: skip
    rows = pd.DataFrame({
        "species": asked["taxon_id"].map(species).fillna(""),
        "package": name, "trial": asked["analysis_id"].map(trial).fillna(""),
        "data": asked["analysis_id"].map(analyses["data_hash"]),
        **{own: asked[column] for own, column in names.items()}, **{own: asked[column].fillna("") for own, column in texts.items()},
    })  # fmt: skip
    pair = pd.MultiIndex.from_frame(rows[["trial", "a", "b"]])
    rows = rows.assign(asks_about=contrasts.reindex(pair).fillna("").to_numpy())
    judged = rows["verdict"].ne("") & rows["value"].notna() & rows["lower"].notna()
    out = [_left(row, _why(row)) for row in rows[rows["verdict"].ne("") & ~judged].to_dict("records")]
    mine = rows[judged]
    again = mine.duplicated(["species", "asks_about", "quantity", "denominator", "scale", "trial", "environment", "a", "b"])
    out += [_left(row, "the same contrast was judged by two analyses; the first stands.") for row in mine[again].to_dict("records")]
    return mine.loc[~again, [*COLUMNS, "data"]], out


def _why(row):
    return f"not judged: {row['reason']}" if row["reason"] else "it has no interval."


def _left(row, why):
    what = ", ".join(filter(None, (row["species"], row["asks_about"], row["quantity"], row["a"], row["b"])))
    return {"package": row["package"], "trial": row["trial"], "what": what, "why": why}


def _records(frame):
    return frame.astype(object).where(frame.notna(), None).to_dict("records")
