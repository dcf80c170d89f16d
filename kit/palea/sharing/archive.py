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
from palea.sharing import scrub
from palea.sharing.metadata import files as metadata
from palea.sharing.redact import redacted
from palea.stamp import Stamp
from palea.tables import descriptor, manifest, opening, saving

EPOCH = (1980, 1, 1, 0, 0, 0)  # the earliest time that a zip can hold; the files' own times say nothing of the data
LEVEL = 6
LEFT_BEHIND = ("drafts", "mappings", ".palea")  # unfinished entries and our own bookkeeping stay at home
TRAVELS = ("schema", "analyses")  # folders that go along whole
JOURNALS = ("whole", "summary", "none")
SUMMARY = "journal-summary.md"
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


def share(package, path, *, replace=False, journal=""):
    """Check for sharing, make coarse what is sensitive, and write one zip with the methods record and a manifest.

    journal : "whole", "summary" (when, which table, how many changes and why; no values) or "none"; "" for the whole one
    where nothing was withheld, else its summary. Only what a package tells of goes along: files that nothing names stay.
    Returns the path. Raises SharingRefused with the findings while errors stand, PackageError where the file exists, or
    where the whole journal is asked for though its old values would give away what was withheld.
    """
    path = Path(path)
    if journal not in ("", *JOURNALS):
        msg = f"“{journal}” is no way to share a journal. Choose one of: {', '.join(JOURNALS)}."
        raise PackageError(msg)
    if path.exists() and not replace:
        msg = f"{path} exists already. Say --replace to overwrite it."
        raise PackageError(msg)
    errors = [f for f in sharing.check(package) if f.severity == "error"]
    if errors:
        msg = f"{len(errors)} errors stand against sharing; nothing was written."
        raise SharingRefused(msg, errors)
    with tempfile.TemporaryDirectory(prefix="palea-share-") as made:
        copy = _copy(package, Path(made) / "package", journal)
        _write_zip(copy, path)
    return path


def _copy(package, folder, journal):
    """The package as it may be shared, with record, environment and manifest, in a folder of its own."""
    from palea.record import methods

    shutil.copytree(package.folder, folder, ignore=lambda _, names: [n for n in names if _stays(n)])
    copied = opening.open_package(folder)
    said = _at_home(copied)
    fit, withheld = redacted(copied)
    _leave_out(copied, fit)
    if withheld and journal == "whole":
        msg = "The whole journal cannot be shared: its old values would give away what is withheld. Choose summary or none."
        raise PackageError(msg)
    if withheld:
        copied, told = _withheld(package, copied, fit, withheld)
        said += told
    wanted = journal or ("summary" if withheld else "whole")
    if wanted == "summary":
        (folder / SUMMARY).write_text(_summary(package), encoding="utf-8")
    if wanted != "whole":
        copied = _without_journal(folder)
    (folder / "environment.json").write_text(
        json.dumps(environment(), indent=1, sort_keys=True) + "\n", encoding="utf-8"
    )
    methods.write(copied, folder / "methods.html", replace=True)
    (folder / "README.md").write_text(_readme(copied, said), encoding="utf-8")
    for name, data in metadata.of(copied, _held(folder), _last_stamp(package).when[:10]).items():
        (folder / name).write_bytes(data)
    manifest.write(folder)
    return folder


def _held(folder):
    """Relative paths of all files of the copy, sorted."""
    return sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file())


def _withheld(package, copied, fit, withheld):
    """(the copy without what was withheld, in any text; sentences that say what was done)."""
    hidden = scrub.secrets(copied, fit)
    fit, many = scrub.scrubbed(fit, hidden)
    own = [str(path) for name in fit.extra_names for path in _paths(fit.resources[name])]
    kept = [p.relative_to(fit.folder).as_posix() for p in sorted((fit.folder / "analyses").rglob("*")) if p.is_file()]
    many += scrub.files(fit.folder, [*own, *kept], hidden)
    told = [*withheld, f"What was withheld was also taken out of {many} texts, marked {scrub.MARK}."] if many else withheld
    fit = fit.describing(informationWithheld=" ".join(told))
    saving.save(fit, _last_stamp(package), "redaction", words="Made fit to be shared.")
    _without_journal(fit.folder)
    _forget(fit.folder)
    return opening.open_package(fit.folder), told


def _at_home(copied):
    """Take files out of the copy that nothing in the package names, and say how many."""
    named = {descriptor.NAME, descriptor.JOURNAL, *(str(p) for r in copied.resources.values() for p in _paths(r))}
    named |= set(copied["attachments"]["path"].dropna())
    every = {path.relative_to(copied.folder).as_posix(): path for path in sorted(copied.folder.rglob("*")) if path.is_file()}
    loose = [path for name, path in every.items() if name not in named and name.split("/")[0] not in TRAVELS]
    for path in loose:
        path.unlink()
    return [f"{len(loose)} files that no table and no attachment names stayed at home."] if loose else []


def _paths(resource):
    """Paths of a resource: of one file or of several."""
    path = resource.get("path")
    return [path] if isinstance(path, str) else list(path or ())


def _summary(package):
    """The journal without names and values: a line a save and table, with how many changes it made and why."""
    counted = {}
    for line in package.journal():
        key = (line["when"], line.get("table", ""), line.get("reason", ""))
        counted[key] = counted.get(key, 0) + 1
    rows = [f"| {when} | {table} | {many} | {why} |" for (when, table, why), many in counted.items()]
    head = ["# What was entered and changed, and when", "", "Names and values are left out.", "", "| when | table | lines | why |"]
    return "\n".join([*head, "|---|---|---|---|", *rows]) + "\n"


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
        "figures and sentences; `manifest-sha256.txt` lists every file with its hash. `CITATION.cff` says how to cite it;",
        "`datacite.json`, `zenodo.json` (rename it to `.zenodo.json` in a repository), `dataset.jsonld` and",
        "`ro-crate-metadata.json` tell repositories and machines the same.",
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
