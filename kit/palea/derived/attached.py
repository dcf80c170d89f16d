"""Files that are attached to a row, and what is known of them."""

from dataclasses import dataclass

from palea.derived.facts import plain
from palea.tables import attachments


@dataclass(frozen=True)
class AttachedFile:
    """One attached file.

    attachment_id, path, media_type, shows, licence, taken_at, taken_by : as in the table, "" where blank.
    scale_bar_mm : number or None.  may_share : True, False, or None where nobody decided.
    there : it lies in the package and is the one whose hash was kept.  position : it says where it was taken.
    fault : why it cannot be shown, "" else.
    """

    attachment_id: str
    path: str
    media_type: str
    shows: str
    licence: str
    taken_at: str
    taken_by: str
    scale_bar_mm: float | None
    may_share: bool | None
    there: bool
    position: bool
    fault: str

    @property
    def caption(self):
        """What stands below it: what is to be seen, and the length of its scale bar."""
        shows = self.shows.rstrip(".")
        return f"{shows}. Scale bar {self.scale_bar_mm:g} mm." if self.scale_bar_mm else f"{shows}."


def attachments_of(package, table, key):
    """The AttachedFiles about one row, in the order of the table. table, key : as in about_table and about_id.

    A file that is not there, or is another one by now, comes with `there` False and the fault in words.
    """
    rows = plain(package["attachments"])
    mine = rows[rows["about_table"].eq(table).fillna(value=False) & rows["about_id"].eq(key).fillna(value=False)]
    return tuple(_known(package, row) for row in mine.to_dict("records"))


def _known(package, row):
    def text(name):
        return "" if row[name] is None or row[name] != row[name] else str(row[name])

    file = attachments.look(package, text("path"))
    changed = file.there and not file.fault and file.sha256 != text("sha256")
    fault = file.fault or ("it is not the one that was attached: its hash is another one" if changed else "")
    scale, share = row["scale_bar_mm"], row["may_share"]
    return AttachedFile(
        *(text(n) for n in ("attachment_id", "path", "media_type", "shows", "licence", "taken_at", "taken_by")),
        None if scale != scale else float(scale), bool(share) if share in (True, False) else None, not fault, file.position, fault,
    )  # fmt: skip
