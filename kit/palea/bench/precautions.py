"""What to take care of before a step: hazards that actions, materials and machines bring along, and what is usual then.

It names statements by code and text, asks for the local risk assessment and the data sheets, and leaves the decision to
local codes and trained staff. It never says that a step is safe.
"""

from dataclasses import dataclass

from palea import schema
from palea.words.hazard import statement


@dataclass(frozen=True)
class Precaution:
    """One kind of hazard. title : what it is.  statements, usual : texts, codes with their text."""

    id: str
    title: str
    statements: tuple[str, ...]
    usual: tuple[str, ...]


def kinds(package, actions=(), materials=(), machines=()):
    """Precautions for steps with these actions, materials (ids) and kinds of machine, in the schema's order.

    A preparation brings along the hazards of all that is in it.
    """
    roles = _roles(package, materials)
    words = [
        *((schema.vocabulary("step_action").words.get(a) or {}) for a in actions),
        *((schema.vocabulary("material_role").words.get(r) or {}) for r in roles),
        *((schema.vocabulary("equipment_kind").words.get(m) or {}) for m in machines),
    ]
    found = {hazard for word in words for hazard in word.get("hazard", ())}
    return tuple(
        Precaution(kind["id"], kind["title"], tuple(map(statement, kind["statements"])), tuple(map(statement, kind["precautions"])))
        for kind in schema.hazards()["step_precautions"] if kind["when"]["hazard"] in found
    )  # fmt: skip


def of_materials(package, materials):
    """[(name, [statements], data sheet)] of materials, and of what is in them, whose data sheet states something."""
    held = _within(package, materials)
    rows = package["materials"]
    rows = rows[rows["material_id"].isin(held) & rows["hazards"].notna()]
    return [
        (row["name"], [statement(c.strip()) for c in row["hazards"].split(";") if c.strip()], _text(row["sds"]))
        for row in rows.to_dict("records")
    ]


def always():
    """Sentences that hold before any such step, and the edition that the statements are taken from."""
    edition = schema.hazards()["edition"]
    return (*schema.hazards()["always"], f"Statements: {edition}; where the data sheet at hand differs, it holds.")


def _roles(package, materials):
    rows = package["materials"]
    return set(rows.loc[rows["material_id"].isin(_within(package, materials)), "role"].dropna())


def _within(package, materials):
    """Ids of materials and of all that is in them."""
    held, parts = set(filter(None, materials)), package["material_parts"]
    while more := set(parts.loc[parts["material_id"].isin(held), "part_material_id"].dropna()) - held:
        held |= more
    return held


def _text(value):
    return value if isinstance(value, str) else ""
