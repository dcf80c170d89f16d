"""The part of a package that an analysis is about, and the hash of what it reads there.

A trial's answer rests on the trial's own rows and on the lots behind its units. Seed that was moved for another trial
is no part of it, so it makes no answer stale.
"""

import hashlib


from palea import schema
from palea.derived.facts import Facts
from palea.derived.lineage import ancestry


class Subject:
    """The tables of a package, narrowed to one trial; each narrowed once, when asked for."""

    def __init__(self, package, trial):
        self._package, self._trial, self._frames = package, trial, {}

    def __getitem__(self, name):
        """The rows of that table that are about the trial, with the index of the whole table."""
        if name not in self._frames:
            self._frames[name] = self._narrow(name)
        return self._frames[name]

    def _narrow(self, name):
        frame, fields = self._package[name], schema.table(name).fields
        if "trial_id" in fields and name != "movements":
            return frame[frame["trial_id"].eq(self._trial).fillna(value=False)]
        if "visit_id" in fields:
            return frame[frame["visit_id"].isin(self["visits"]["visit_id"])]
        if name in ("lots", "movements"):
            mine = frame["lot_id"].isin(self._lots())
            if name == "movements":
                mine |= frame["counterpart_lot_id"].isin(self._lots())
            return frame[mine]
        if name in ("tests", "runs"):
            column = "lot_id" if name == "tests" else "run_id"
            return frame[frame[column].isin(self._lots() if name == "tests" else set(self["movements"]["run_id"].dropna()))]
        parent = {"readings": ("tests", "test_id"), "run_steps": ("runs", "run_id")}.get(name)
        if parent:
            return frame[frame[parent[1]].isin(self[parent[0]][parent[1]])]
        if "treatment_id" in fields:
            return frame[frame["treatment_id"].isin(self["units"]["treatment_id"].dropna())]
        return frame

    def _lots(self):
        if "lots behind" not in self._frames:
            before = Facts(self._package)[ancestry]
            sown = set(self["units"]["lot_id"].dropna())
            self._frames["lots behind"] = sown | set(before.loc[before["lot"].isin(sown), "ancestor"])
        return self._frames["lots behind"]


def fingerprint(tables, reads):
    """"sha256:..." over the columns named in `reads` ({table: columns}) of `tables`.

    Rows are taken in the order of their primary key, so sorting a table in a spreadsheet changes nothing.
    """
    digest = hashlib.sha256()
    for name in sorted(reads):
        key, columns = list(schema.table(name).primary_key), sorted(reads[name])
        frame = tables[name]
        order = frame[key].astype("string").fillna("").agg("\x1f".join, axis=1).sort_values(kind="stable").index
        text = frame.loc[order, columns].to_csv(index=False, lineterminator="\n", na_rep="")
        digest.update(f"{name}\x1e{text}\x1d".encode())
    return f"sha256:{digest.hexdigest()}"


def trial_of(package, trial):
    """The Subject of a trial, or of the only one there is when `trial` is None; None where it cannot be told."""
    known = package["trials"]["trial_id"].dropna().tolist()
    if trial is None and len(known) == 1:
        trial = known[0]
    return Subject(package, trial) if trial in known else None


def known_trials(package):
    """Ids of the trials of a package."""
    return [str(t) for t in package["trials"]["trial_id"].dropna()]


