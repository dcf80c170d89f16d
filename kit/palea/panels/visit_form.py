"""The form of a visit at a count sheet: what is asked of a new one, and what of a saved one can be put right.

A new visit begins with what the last one did. A saved visit shows its fields as they are kept, folded away but for the
one that is often known only afterwards: whether the solution was renewed. What differs from them is the change.
"""

from palea import schema
from palea.bench import proposals
from palea.panels import dishes
from palea.panels.form import Form

ASK = ("visited_at", "visited_by", "counting", "looked_for", "renewed", "sheet", "notes")
AFTERWARDS = "renewed"


class VisitForm(Form):
    """The form. begun : {name: text} it began with.  draft : {name: text} typed before and not saved yet.

    saved : id of the visit, "" for a new one.  stage : whose outcomes are offered.
    """

    def __init__(self, package, begun, draft, on_change, on_save, *, stage, saved=""):
        self.begun, self.saved = begun, saved
        folded = [name for name in begun if saved and name != AFTERWARDS]
        super().__init__(package, "visits", tuple(begun), begun | draft, on_change, folded=folded, kept=begun, on_save=on_save)
        self.narrow("looked_for", schema.words("outcome", stage=stage))

    @property
    def changes(self):
        """{name: text} of what differs from what it began with."""
        return {name: text for name, text in self.texts.items() if text.strip() != self.begun[name].strip()}

    @property
    def changes_saved(self):
        """Whether a saved visit would become another one."""
        return bool(self.saved and self.changes)

    @property
    def draft(self):
        """What of it a draft keeps: all of a new visit, and of a saved one only what would change."""
        return self.changes if self.saved else self.texts


def asked(facts, trial):
    """Names of the fields: whether solution was renewed only where the trial has any that is."""
    places = facts["environments"]
    renewed = (places["trial_id"].eq(trial) & places["renewed_every_d"].notna()).fillna(value=False).any()
    return tuple(name for name in ASK if name != AFTERWARDS or renewed)


def as_saved(package, names, visit_id):
    """{name: text} of a saved visit. A field that the trial would not be asked for is there too where it is filled in."""
    texts = proposals.row_as_texts(package, "visits", visit_id)
    return {name: texts[name] for name in ASK if name in names or texts[name]}


def usual(facts, names, visits, person):
    """{name: text} that a new visit begins with: what the last visit but a final one did, by the person who sits here."""
    last = next((v for v in reversed(visits) if not dishes.is_last(v)), visits[-1] if visits else None)
    by, counting, looked_for = (last.by, last.counting, last.looked_for) if last else ("", "", ())
    known = set(facts["people"]["person_id"])
    texts = {"visited_by": person if person in known else by, "counting": counting,
             "looked_for": dishes.separator().join(looked_for)}  # fmt: skip
    return dict.fromkeys(names, "") | texts
