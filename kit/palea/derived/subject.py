"""The part of a package that an analysis is about, and the hash of what it reads there.

A trial's answer rests on the trial's own rows and on the lots behind its units. Seed that was moved for another trial
is no part of it, so it makes no answer stale.
"""

from functools import cached_property

from palea import schema
from palea.derived.facts import Facts
from palea.derived.lineage import ancestry
from palea.tables import fingerprints

# Tables that do not name the trial: by which column, and of which table's rows, theirs are told. Tables that are not
# here (people, taxa, materials, equipment) stay whole.
FOLLOWS = {
    "counts": ("visit_id", "visits"),
    "runs": ("run_id", "movements"),
    "run_steps": ("run_id", "movements"),
    "tests": ("lot_id", "lots"),
    "readings": ("test_id", "tests"),
    "storage": ("lot_id", "lots"),
    "unit_levels": ("unit_id", "units"),
    "plants": ("unit_id", "units"),
    "handling_counts": ("handling_id", "handling_runs"),
    "sites": ("site_id", "environments"),
    "protocol_steps": ("protocol_id", "runs"),
    "protocols": ("protocol_id", "runs"),
}


class Subject:
    """The tables of a package, narrowed to one trial; each narrowed once, when asked for.

    before : the view of which lots were before which, of the whole package, where it is known already.
    """

    def __init__(self, package, trial, before=None):
        self._package, self._trial, self._before, self._frames = package, trial, before, {}

    def __getitem__(self, name):
        """The rows of that table that are about the trial, with the index of the whole table."""
        if name not in self._frames:
            self._frames[name] = self._narrow(name)
        return self._frames[name]

    def _narrow(self, name):
        frame = self._package[name]
        if name == "lots":
            return frame[frame["lot_id"].isin(self._lots)]
        if name == "movements":  # its trial_id says where seed was sown; the seed's way there is movements too
            return frame[frame["lot_id"].isin(self._lots) | frame["counterpart_lot_id"].isin(self._lots)]
        if name == "measurements":  # of a plot as a whole, or of a plant in it
            of_plants = frame["plant_id"].isin(self["plants"]["plant_id"])
            return frame[frame["unit_id"].isin(self["units"]["unit_id"]) | of_plants]
        if name == "conditions":
            outdoors = frame["site_id"].isin(self["environments"]["site_id"].dropna())
            return frame[frame["environment_id"].isin(self["environments"]["environment_id"]) | outdoors]
        if "trial_id" in schema.table(name).fields:
            return frame[frame["trial_id"].eq(self._trial).fillna(value=False)]
        if name in ("treatments", "treatment_actives"):  # sown in units, or run through a seeder
            used = {t for table in ("units", "handling_runs") for t in self[table]["treatment_id"].dropna()}
            return frame[frame["treatment_id"].isin(used)]
        if name in FOLLOWS:
            column, table = FOLLOWS[name]
            return frame[frame[column].isin(self[table][column].dropna())]
        return frame

    @cached_property
    def _lots(self):
        """Ids of the lots that the trial's units were sown from, and of all lots before them."""
        before = Facts(self._package)[ancestry] if self._before is None else self._before
        sown = set(self["units"]["lot_id"].dropna()) | set(self["handling_runs"]["lot_id"].dropna())
        return sown | set(before.loc[before["lot"].isin(sown), "ancestor"])


def fingerprint(tables, reads, known=None):
    """Hash over the columns named in `reads` ({table: columns}) of `tables`; the order of rows does not matter.

    known : as in palea.tables.fingerprints.of, for who asks about the same tables often.
    """
    return fingerprints.of({name: (schema.table(name), tables[name], columns) for name, columns in reads.items()}, known)


def known_trials(package):
    """Ids of the trials of a package."""
    return [str(t) for t in package["trials"]["trial_id"].dropna()]
