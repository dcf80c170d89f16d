"""The report of a rerun kept in the package that was rerun: in a folder by a save, of a zip in a copy of it."""

import hashlib
import shutil
import tempfile
from pathlib import Path

from palea import schema
from palea.documents import html
from palea.errors import PackageError
from palea.sharing import report
from palea.sharing.archive import write_zip
from palea.sharing.compare import VERDICTS
from palea.tables import manifest, saving
from palea.tables.opening import open_package

FOLDER = "files"
NAME = "rerun"
KIND = "text/html"


def keep(found, stamp, *, to=None, replace=False):
    """Add the report of a Rerun to the package that it is of, as an attached file. The path of the folder or of the zip.

    A folder is saved in one transaction, with a line in its journal; its manifest is made anew where it was sound before,
    and left as it is where it was not. A zip stays as it was sent: `to`, or NAME-rerun.zip beside it, is a copy with it.
    Raises PackageError where that file is there already, and whatever saving raises.
    """
    package = open_package(found.package)
    if not package.read_only:
        _add(package, found, stamp)
        return package.folder
    target = Path(to) if to else _beside(package.source)
    if target.exists() and not replace:
        msg = f"{target} exists already. Say --replace to overwrite it."
        raise PackageError(msg)
    with tempfile.TemporaryDirectory(prefix="palea-rerun-") as made:
        folder = Path(shutil.copytree(package.folder, Path(made) / "package"))
        _add(open_package(folder), found, stamp)
        write_zip(folder, target)
    return target


def _beside(source):
    return source.with_name(f"{source.stem}-{NAME}{source.suffix}")


def _add(package, found, stamp):
    data = html.write(report.page(found, stamp)).encode()
    taken = set(package["attachments"][schema.table("attachments").primary_key[0]].dropna())
    number = next(n for n in range(1, len(taken) + 2) if _free(package, taken, n))
    row = {
        "attachment_id": f"{NAME}-{number}", "path": f"{FOLDER}/{NAME}-{number}.html", "sha256": hashlib.sha256(data).hexdigest(),
        "media_type": KIND, "taken_at": stamp.when, "may_share": True,
        "shows": f"Rerun of the analyses: {', '.join(f'{found.count(v)} {v}' for v in VERDICTS)}.",
    }  # fmt: skip
    words = "The report of a rerun was added."
    saving.save(package.having("attachments", [row]), stamp, "entry", words=words, files={row["path"]: data})
    if found.manifest == "ok":
        manifest.write(package.folder)


def _free(package, taken, number):
    return f"{NAME}-{number}" not in taken and not package.file(f"{FOLDER}/{NAME}-{number}.html").exists()
