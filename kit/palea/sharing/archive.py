"""One self-describing archive of a package; the same state gives the same bytes."""

import json
import platform
import shutil
import tempfile
import zipfile
from importlib.metadata import version
from pathlib import Path

from palea.checks import sharing
from palea.errors import PackageError, SharingRefused
from palea.sharing.redact import redacted
from palea.stamp import Stamp
from palea.tables import descriptor, manifest, opening, saving

EPOCH = (1980, 1, 1, 0, 0, 0)  # the earliest time that a zip can hold; the files' own times say nothing of the data
LEVEL = 6
LEFT_BEHIND = ("drafts", ".palea")  # unfinished entries and our own bookkeeping stay at home
SOFTWARE = (
    "palea",
    "numpy",
    "scipy",
    "pandas",
    "pandera",
    "altair",
    "vl-convert-python",
    "frictionless",
    "statsmodels",
)


def share(package, path, *, replace=False):
    """Check for sharing, make coarse what is sensitive, and write one zip with the methods record and a manifest.

    Returns the path. Raises SharingRefused with the findings while errors stand, PackageError where the file exists.
    """
    path = Path(path)
    if path.exists() and not replace:
        msg = f"{path} exists already. Say --replace to overwrite it."
        raise PackageError(msg)
    errors = [f for f in sharing.check(package) if f.severity == "error"]
    if errors:
        msg = f"{len(errors)} errors stand against sharing; nothing was written."
        raise SharingRefused(msg, errors)
    with tempfile.TemporaryDirectory(prefix="palea-share-") as made:
        copy = _copy(package, Path(made) / "package")
        _write_zip(copy, path)
    return path


def _copy(package, folder):
    """The package as it may be shared, with record, environment and manifest, in a folder of its own."""
    from palea.record import methods

    shutil.copytree(package.folder, folder, ignore=lambda _, names: [n for n in names if _stays(n)])
    copied = opening.open_package(folder)
    fit, said = redacted(copied)
    _leave_out(copied, fit)
    if said:
        fit = fit.describing(informationWithheld=" ".join(said))
        saving.save(fit, _last_stamp(package), "redaction", words=" ".join(said))
        copied = _without_journal(folder)
        _forget(folder)
    (folder / "environment.json").write_text(
        json.dumps(environment(), indent=1, sort_keys=True) + "\n", encoding="utf-8"
    )
    methods.write(copied, folder / "methods.html", replace=True)
    (folder / "README.md").write_text(_readme(copied, said), encoding="utf-8")
    manifest.write(folder)
    return folder


def _forget(folder):
    """Take out of the copy what saving kept beside it: it holds what was just made coarse."""
    for path in folder.iterdir():
        if _stays(path.name):
            shutil.rmtree(path) if path.is_dir() else path.unlink()


def _leave_out(before, after):
    """Take the files out of the copy whose rows were taken out."""
    left = set(before["attachments"]["path"].dropna()) - set(after["attachments"]["path"].dropna())
    for path in left:
        before.file(path).unlink(missing_ok=True)


def _without_journal(folder):
    """The copy without its journal, whose old values would give away what was made coarse."""
    (folder / descriptor.JOURNAL).unlink(missing_ok=True)
    raw = descriptor.thaw(descriptor.read(folder))
    raw["resources"] = [r for r in raw["resources"] if r["name"] != "journal"]
    raw["palea"] = raw.get("palea", {}) | {"journal_lines": 0, "journal_hash": ""}
    (folder / descriptor.NAME).write_bytes(descriptor.text(raw))
    return opening.open_package(folder)


def _stays(name):
    return name.startswith(".") or name in LEFT_BEHIND or name.endswith((".lock", ".tmp"))


def _last_stamp(package):
    """Who and when of the last change: the archive of a state is stamped with that state, not with the hour of sharing."""
    lines = package.journal()
    return Stamp("palea share", lines[-1]["when"] if lines else "1980-01-01T00:00:00+00:00")


def environment():
    """Python, platform and the versions of the libraries that numbers rest on."""
    found = {}
    for name in SOFTWARE:
        try:
            found[name] = version(name)
        except ModuleNotFoundError:
            continue
    return {"python": platform.python_version(), "platform": platform.system(), "machine": platform.machine()} | found


def _readme(package, said):
    licence = ", ".join(x.get("name", "") for x in package.descriptor.get("licenses", ())) or "none stated"
    lines = [
        f"# {package.title}",
        "",
        package.descriptor.get("description", ""),
        "",
        "`datapackage.json` describes the tables in `data/`; `methods.html` is the methods record; `analyses/` holds",
        "figures and sentences; `manifest-sha256.txt` lists every file with its hash.",
        "",
        "Check, and recompute every number: `palea check FOLDER`, `palea rerun FOLDER`.",
        "",
        f"Licence: {licence}.",
    ]
    return "\n".join([*lines, *(["", "## Made coarse before sharing", "", *said] if said else [])]) + "\n"


def _write_zip(folder, path):
    files = [folder / name for name in (*manifest.files(folder), manifest.NAME)]
    part = path.with_name(path.name + ".tmp")
    with zipfile.ZipFile(part, "w", zipfile.ZIP_DEFLATED, compresslevel=LEVEL) as archive:
        for file in files:
            info = zipfile.ZipInfo(file.relative_to(folder).as_posix(), EPOCH)
            info.compress_type, info.external_attr, info.create_system = zipfile.ZIP_DEFLATED, 0o644 << 16, 3
            archive.writestr(info, file.read_bytes(), compresslevel=LEVEL)
    part.replace(path)
