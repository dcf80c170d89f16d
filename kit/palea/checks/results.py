"""What cannot be true of kept results and of files that are attached, by their rows alone."""

import pandas as pd

from palea import schema
from palea.checks.rule import rule
from palea.derived.lookup import texts
from palea.derived.meant import known_ids, of_nothing


def result(**more):
    """One kept result: a difference in points between two treatments."""
    usual = {
        "analysis_id": "A1",
        "result_no": 1,
        "quantity": "normal seedlings",
        "treatment_a": "A",
        "treatment_b": "B",
        "scale": "difference",
        "estimate": 20.0,
        "lower": 5.0,
        "upper": 35.0,
        "unit": "%",
        "denominator": "filled",
        "df": 6.0,
        "n_batches": 8,
        "n_units": 32,
        "n_seeds": 800,
        "verdict": "better",
        "status": "current",
    }
    return {"analyses": [{"analysis_id": "A1", "recipe": "germination.final", "version": 1}], "results": [usual | more]}


@rule(
    "record.seeds-as-replicates",
    severity="error",
    reads=("results",),
    at="results.n_units",
    says="Result {result_no} of analysis {analysis_id}: {told}. Seeds of one dish or plot are no replicates of a "
    "treatment.",
    remedy="Analyse dishes, plots or batches, whichever the treatment was applied to; what was said from this result "
    "does not hold.",
    fires=result(n_units=800, df=798.0),
    nearly=result(),
)
def seeds_as_replicates(results):
    """A dish or plot holds many seeds; where there are as many units as seeds, seeds were taken for units.

    Degrees of freedom tell nothing here: a variance may be pooled over more groups than one result is about.
    """
    of_trials = [q for q in schema.words("quantity") if schema.word("quantity", q)["stage"] in ("germination", "field")]
    each = results["n_units"].ge(results["n_seeds"]) & results["n_seeds"].gt(LEAST_SEEDS)
    found = results[each & results["quantity"].isin(of_trials)]
    pairs = found[["n_units", "n_seeds"]].itertuples(index=False, name=None)
    told = [f"its {units:.0f} units are {seeds:.0f} seeds" for units, seeds in pairs]
    return found.assign(told=told)


LEAST_SEEDS = 20  # below this many the numbers of units and seeds can be alike in honest work, one plant a pot


@rule(
    "record.estimate-outside",
    severity="error",
    reads=("results",),
    at="results.estimate",
    says="Result {result_no} of analysis {analysis_id}: the estimate {estimate} lies outside its own interval, "
    "{lower} to {upper}.",
    remedy="Run the analysis again; a number was altered by hand.",
    fires=result(estimate=50.0),
    nearly=result(estimate=35.0),
)
def estimate_outside(results):
    """An estimate lies in its interval."""
    return results[(results["estimate"] < results["lower"]) | (results["estimate"] > results["upper"])]


@rule(
    "record.interval-upside-down",
    severity="error",
    reads=("results",),
    at="results.lower",
    says="Result {result_no} of analysis {analysis_id}: the interval runs from {lower} down to {upper}.",
    remedy="Run the analysis again; a number was altered by hand.",
    fires=result(estimate=None, lower=35.0, upper=5.0),
    nearly=result(),
)
def interval_upside_down(results):
    """Lower is below upper."""
    return results[results["lower"] > results["upper"]]


@rule(
    "record.verdict-not-borne-out",
    severity="error",
    reads=("results",),
    at="results.verdict",
    says="Result {result_no} of analysis {analysis_id} says “{verdict}”, but its interval, {lower} to {upper}, holds "
    "no difference ({zero}).",
    remedy="Run the analysis again. An interval that holds no difference is “not shown”, or equivalent where a margin "
    "was set.",
    fires=result(lower=-3.0),
    nearly=result(lower=-3.0, verdict="not shown"),
)
def verdict_not_borne_out(results):
    """Better and worse need an interval that leaves out no difference: 0, or 1 for a ratio. Adjusted p values are stricter."""
    zero = texts(
        results["scale"],
        {s: "1" if schema.word("effect_scale", s)["ratio"] else "0" for s in schema.words("effect_scale")},
    )
    at = zero.astype("Float64").astype(float)
    holds = (results["lower"] < at) & (results["upper"] > at)
    return results.assign(zero=zero)[holds & results["verdict"].isin(["better", "worse"])]


@rule(
    "record.equivalent-without-margin",
    severity="error",
    reads=("results",),
    at="results.margin",
    says="Result {result_no} of analysis {analysis_id} says “{verdict}”, and no margin was set.",
    remedy="Not shown is not the same as equal: set a margin before the first count of a next trial.",
    fires=result(lower=-3.0, verdict="equivalent within m"),
    nearly=result(lower=-3.0, verdict="equivalent within m", margin=15.0),
)
def equivalent_without_margin(results):
    """“Equivalent” and “no worse” name a margin."""
    return results[results["verdict"].isin(schema.words("verdict", needs_margin=True)) & results["margin"].isna()]


@rule(
    "record.share-of-what",
    severity="gap",
    reads=("results",),
    at="results.denominator",
    says="Result {result_no} of analysis {analysis_id}: {quantity} is a share, and nothing says of what.",
    remedy="Say of sown units, of filled, of viable or of emerged.",
    fires=result(denominator=None),
    nearly=result(denominator=None, quantity="t50", unit="d"),
)
def share_of_what(results):
    """A share carries what it is of. A refusal, which has no estimate, need not."""
    shares = [q for q in schema.words("quantity") if schema.word("quantity", q).get("numerator")]
    return results[results["quantity"].isin(shares) & results["denominator"].isna() & results["estimate"].notna()]


@rule(
    "record.not-judged-why",
    severity="gap",
    reads=("results",),
    at="results.reason",
    says="Result {result_no} of analysis {analysis_id} is not judged, and no reason is kept.",
    remedy="Run the analysis again: a refusal keeps its reason.",
    fires=result(verdict="not judged", estimate=None, lower=None, upper=None),
    nearly=result(verdict="not judged", estimate=None, lower=None, upper=None, reason="No unit of A was sown here."),
)
def not_judged_why(results):
    """A refusal is a result, and says what is missing."""
    return results[results["verdict"].eq("not judged").fillna(value=False) & results["reason"].isna()]


@rule(
    "record.result-without-analysis-facts",
    severity="gap",
    reads=("analyses",),
    at="analyses.recipe",
    says="Analysis {analysis_id} ({recipe}) keeps no {missing}, so nobody can run it again.",
    remedy="Run it with `palea analyse`, which keeps what a rerun needs.",
    fires={"analyses": [{"analysis_id": "A1", "recipe": "germination.final", "version": 1, "ran_at": "2025-05-01"}]},
    nearly={
        "analyses": [
            {
                "analysis_id": "A1",
                "recipe": "germination.final",
                "version": 1,
                "ran_at": "2025-05-01",
                "reads": "{}",
                "data_hash": "sha256:" + "0" * 64,
            }
        ]
    },
)
def result_without_facts(analyses):
    """An analysis that ran keeps what it read and the hash of it."""
    named = {"reads": "list of what it read", "data_hash": "hash of its data"}
    blank = analyses[list(named)].isna().to_numpy()
    lacks = [" and ".join(word for word, empty in zip(named.values(), row, strict=True) if empty) for row in blank]
    return analyses.assign(missing=lacks)[
        analyses["ran_at"].notna() & (analyses["reads"].isna() | analyses["data_hash"].isna())
    ]


def _declared(*outcomes):
    """A kept result on normal seedlings of trial G1, and contrasts declared there on these outcomes."""
    asked = [
        {"contrast_id": f"C{n}", "trial_id": "G1", "a": "A", "b": "B", "outcome": outcome}
        for n, outcome in enumerate(outcomes, 1)
    ]
    kept = result()
    of_trial = [row | {"trial_id": "G1"} for row in kept["analyses"]]
    return kept | {"analyses": of_trial, "contrasts": asked, "trials": [{"trial_id": "G1"}]}


@rule(
    "record.contrasts-left-out",
    severity="gap",
    reads=("trials", "contrasts", "analyses", "results"),
    at="trials.trial_id",
    needs="results contrasts",
    says="Trial {trial_id}: answers are kept to {kept} of its {declared} declared contrasts, and none to {left}.",
    remedy="Keep the answer to each declared contrast (`palea analyse`): one favourable stage, told alone, makes a treatment "
    "look better than it is.",
    fires=_declared("normal seedlings", "hard seed"),
    nearly=_declared("normal seedlings"),
)
def contrasts_left_out(trials, contrasts, analyses, results):
    """Where one contrast of a trial is answered, all are. What is asked across a factor is answered under another name."""
    trial = analyses.drop_duplicates("analysis_id").set_index("analysis_id")["trial_id"]
    kept = results[results["treatment_a"].notna() & results["treatment_b"].notna()]
    if kept.empty:
        return None
    pairs = list(zip(kept["treatment_a"], kept["treatment_b"], strict=True))
    told = {*zip(pairs, kept["quantity"], strict=True), *((pair, "") for pair in pairs)}
    asked = contrasts[contrasts["trial_id"].isin(texts(kept["analysis_id"], trial))].dropna(subset=["a", "b", "outcome"])
    named = asked["outcome"].mask(asked["across"].notna(), "")
    sides = zip(asked["a"], asked["b"], strict=True)
    missed = [(pair, quantity) not in told for pair, quantity in zip(sides, named, strict=True)]
    out = asked.assign(out=pd.Series(missed, index=asked.index, dtype=bool))
    by = out.groupby("trial_id")["out"].agg(declared="size", missed="sum")
    left = out[out["out"]].groupby("trial_id")["contrast_id"].agg(_first_few)
    found = trials[trials["trial_id"].isin(left.index)]
    more = by.assign(kept=by["declared"] - by["missed"], left=left).reindex(found["trial_id"]).set_index(found.index)
    return found.assign(**{name: more[name] for name in ("declared", "kept", "left")})


def _first_few(names, few=3):
    names = list(names)
    return ", ".join(names[:few]) + (f" and {len(names) - few} more" if len(names) > few else "")


def attached(**more):
    """One attached file about a lot."""
    usual = {
        "attachment_id": "F1",
        "path": "files/a.png",
        "sha256": "0" * 64,
        "media_type": "image/png",
        "shows": "A unit cut open",
        "about_table": "lots",
        "about_id": "AV-0",
        "may_share": True,
        "licence": "CC-BY-4.0",
    }
    return {"lots": [{"lot_id": "AV-0"}], "attachments": [usual | more]}


@rule(
    "record.file-of-nothing",
    severity="error",
    reads=("attachments", known_ids),
    at="attachments.about_id",
    says="Attachment {attachment_id} ({path}) is about {about_table} “{about_id}”, which is not there.",
    remedy="Correct the id, or the table that it belongs to.",
    fires=attached(about_id="AV-9"),
    nearly=attached(),
)
def file_of_nothing(attachments, known_ids):
    """What a file shows is a row of the package."""
    return of_nothing(attachments, known_ids)


@rule(
    "record.file-twice",
    severity="warning",
    reads=("attachments",),
    at="attachments.path",
    says="Attachment {attachment_id} names the file {path}, and so does {other}.",
    remedy="Keep one row a file; what else it is about can stand in what it shows.",
    fires={"attachments": [*attached()["attachments"], *attached(attachment_id="F2")["attachments"]]},
    nearly={
        "attachments": [*attached()["attachments"], *attached(attachment_id="F2", path="files/b.png")["attachments"]]
    },
)
def file_twice(attachments):
    """One row a file."""
    first = attachments.groupby("path")["attachment_id"].transform("first")
    return attachments.assign(other=first)[attachments["path"].notna() & attachments.duplicated("path")]


@rule(
    "record.may-it-be-shared",
    severity="gap",
    reads=("attachments",),
    at="attachments.may_share",
    says="Attachment {attachment_id} ({path}): nobody decided whether it may be shared, so it will stay here.",
    remedy="Ask whoever took it, and enter true or false.",
    fires=attached(may_share=None),
    nearly=attached(may_share=False),
)
def may_it_be_shared(attachments):
    """Sharing a file is decided by a person."""
    return attachments[attachments["may_share"].isna()]


@rule(
    "record.shared-without-licence",
    severity="gap",
    reads=("attachments",),
    at="attachments.licence",
    says="Attachment {attachment_id} ({path}) may be shared, and no licence says on which terms.",
    remedy="Enter an SPDX id such as CC-BY-4.0.",
    fires=attached(licence=None),
    nearly=attached(licence=None, may_share=False),
)
def shared_without_licence(attachments):
    """What is shared has terms."""
    return attachments[attachments["may_share"].fillna(value=False).astype(bool) & attachments["licence"].isna()]


RULES = (
    seeds_as_replicates,
    estimate_outside,
    interval_upside_down,
    verdict_not_borne_out,
    equivalent_without_margin,
    share_of_what,
    not_judged_why,
    result_without_facts,
    contrasts_left_out,
    file_of_nothing,
    file_twice,
    may_it_be_shared,
    shared_without_licence,
)
