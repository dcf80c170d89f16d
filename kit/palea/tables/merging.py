"""A change put on top of what somebody else saved meanwhile, if the two touch different rows."""

import json
from dataclasses import replace
from types import MappingProxyType

from palea import schema
from palea.errors import ChangedOutside
from palea.tables import differences, editing, telling
from palea.tables.opening import open_package

SHOWN = 5  # rows that a refusal tells; it carries them all


def on_top(package):
    """The same changes on the state that is on disk now -> another Package, not yet saved.

    For who was told by `saving.save` that a file is no longer what was read. Raises ChangedOutside, with what the
    other did in `differences`, where both changed the same row in different ways. `package` stays as it is, and
    nothing is written.
    """
    fresh = open_package(package.folder)
    edited = {name: _laid_over(package, fresh, name) for name in package.edited}
    fresh = replace(fresh, edited=MappingProxyType(edited))
    return fresh.describing(**package.described) if package.described else fresh


def theirs(package, now, name):
    """What others did to a table since `package` read it: frame as `differences.between` gives it."""
    sheets = package.stored(name), now.stored(name)
    return differences.of_table(schema.table(name), *map(differences.whole, sheets))


def _laid_over(package, fresh, name):
    """The Sheet of one table: as it is on disk now, with what was changed in `package`."""
    before, after, now = package.stored(name), package.sheet(name), fresh.stored(name)
    if now.sha256 == before.sha256:
        return after
    changed, gone, added = differences.parts(before.table, *map(differences.whole, (before, after)))
    mine = differences.together(before.table, changed, gone, added)
    _refuse_collisions(name, mine, theirs(package, fresh, name))
    if len(gone):
        lost = set(differences.keys_of(before.table, gone))
        now = editing.replacing(now, now.frame[[k not in lost for k in differences.keys_of(before.table, now.frame)]])
    if len(changed):
        now = editing.having(now, list(_cells(before.table, changed)))
    return editing.having(now, added) if len(added) else now


def _cells(table, changed):
    """Each changed cell as a row with its key and that one column."""
    for change in changed.to_dict("records"):
        key = dict(zip(table.primary_key, json.loads(change["key"]), strict=True))
        yield {**key, change["column"]: None if change["new"] is None or change["new"] != change["new"] else change["new"]}


def _refuse_collisions(name, mine, other):
    """Raise where a row was changed by both, unless both did the same to it."""
    both = other[other["key"].isin(_only_in(mine, other)) & other["key"].isin(_only_in(other, mine))]
    if len(both):
        msg = (
            f"{name}: the same row was changed by somebody else. {' '.join(telling.sentences(both, SHOWN))} "
            "Nothing was written; look at the sheet, open the package again and make your change there."
        )
        raise ChangedOutside(msg, both.to_dict("records"))


def _only_in(one, other):
    """Keys of the changes in `one` that `other` does not hold in the same way."""
    same = ["key", "column", "new", "kind"]
    marked = one[same].fillna("").merge(other[same].fillna("").drop_duplicates(), how="left", indicator=True)
    return set(marked.loc[marked["_merge"].eq("left_only"), "key"])
