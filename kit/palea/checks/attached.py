"""Attached files: those that are not there, that were changed, that say where they were taken."""

from palea.derived.facts import plain
from palea.findings import Finding
from palea.tables import attachments

HEADER_ROWS = 2


def looked_at(package):
    """(line, row, File) of each attachment of a package that has any."""
    rows = plain(package["attachments"])
    for line, row in rows[rows["path"].notna()].to_dict("index").items():
        yield line, row, attachments.look(package, str(row["path"]))


def findings(package):
    """What is wrong with the files themselves: not there, or not the one whose hash was kept."""
    for line, row, file in looked_at(package):
        if file.fault:
            yield _found(
                "record.file-not-there",
                "error",
                line,
                "path",
                file.path,
                f"The attached file {file.path} cannot be looked at: {file.fault}.",
                "Put the file back where it lay, or take the row out and say why.",
            )
        elif row["sha256"] == row["sha256"] and file.sha256 != row["sha256"]:
            yield _found(
                "record.file-changed",
                "error",
                line,
                "sha256",
                row["sha256"],
                f"The attached file {file.path} is not the one that was entered: its hash begins with "
                f"{file.sha256[:12]} now.",
                "Attach the changed file anew, so that the record says since when it is another one.",
            )


def positions(package):
    """Files that may be shared and say where they were taken, or whose camera it was: only the sharing asks for that."""
    for line, row, file in looked_at(package):
        if row["may_share"] is False or row["may_share"] != row["may_share"]:
            continue
        told = ("sharing.file-says-where", "the place where it was taken") if file.position else (
            ("sharing.file-says-who", "the name of the camera's owner or its serial number") if file.owner else None
        )  # fmt: skip
        if told:
            yield _found(
                told[0],
                "error",
                line,
                "path",
                file.path,
                f"The picture {file.path} carries {told[1]}.",
                "Attach a bare copy in its place (`palea attach --bare`); sharing does not alter a file whose hash is in the "
                "record.",
            )


def _found(rule, severity, line, field, value, message, remedy):
    return Finding(rule, severity, "attachments", int(line) + HEADER_ROWS, field, value, message, remedy)
