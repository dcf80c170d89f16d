"""The checklist seen from a treatment: what a reader is told of the seed, the runs and the materials behind it."""

from collections import defaultdict

from palea.checks import checklist
from palea.derived.facts import Facts
from palea.derived.lineage import ancestry, history


def tally(package, answers=None):
    """Counts by treatment, stage and weight, as rows {treatment, stage, weight, applicable, reported, ...}.

    A treatment answers for itself, for the lots that carry it and those before them, the runs behind these with their
    steps and materials, and the tests of these lots. Treatments without a lot answer for themselves alone.
    answers : of `checklist.evaluate`, where they are at hand already.
    """
    answers = checklist.evaluate(package) if answers is None else answers
    behind = subjects(package)
    found = []
    for treatment, about in behind.items():
        mine = [a for a in answers if a.subject in about.get(a.about, ())]
        found += [{"treatment": treatment} | row for row in checklist.tally(mine)]
    return found


def subjects(package):
    """{treatment: {table: ids of its rows that the treatment answers for}}."""
    facts = Facts(package)
    lots = _lots(facts)
    before = facts[ancestry].groupby("lot")["ancestor"].agg(set)
    runs = facts[history].groupby("lot")["run"].agg(set)
    steps = facts["run_steps"].dropna(subset=["material_id"]).groupby("run_id")["material_id"].agg(set)
    parts = facts["material_parts"].groupby("material_id")["part_material_id"].agg(set)
    tests = facts["tests"].groupby("lot_id")["test_id"].agg(set)
    return {t: _behind(t, own, before, runs, steps, parts, tests) for t, own in lots.items()}


def _lots(facts):
    """{treatment: its lots}, by the units that were sown and the handling runs that were made."""
    found = {t: set() for t in facts["treatments"]["treatment_id"].dropna()}
    for table in ("units", "handling_runs"):
        pairs = facts[table][["treatment_id", "lot_id"]].dropna().drop_duplicates()
        for treatment, lot in pairs.itertuples(index=False, name=None):
            found.setdefault(treatment, set()).add(lot)
    return found


def _behind(treatment, own, before, runs, steps, parts, tests):
    about = defaultdict(set, {"treatments": {treatment}, "treatment_actives": {treatment}})
    about["lots"] = own.union(*(before.get(lot, set()) for lot in own))
    about["runs"] = set().union(*(runs.get(lot, set()) for lot in own))
    about["run_steps"] = about["runs"]
    about["tests"] = set().union(*(tests.get(lot, set()) for lot in about["lots"]))
    about["materials"] = set().union(*(steps.get(run, set()) for run in about["runs"]))
    for _ in range(len(parts)):  # a preparation may be made of preparations
        more = set().union(*(parts.get(m, set()) for m in about["materials"])) - about["materials"]
        if not more:
            break
        about["materials"] |= more
    return about
