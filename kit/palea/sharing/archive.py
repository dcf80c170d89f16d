"""One self-describing archive of a package; the same state gives the same bytes."""

import json
import platform
import tempfile
import zipfile
from importlib.metadata import version
from pathlib import Path

from palea.checks import sharing
from palea.errors import PackageError
from palea.sharing import journal_shared, redact, travelling, withheld
from palea.sharing.made_fit import made_fit, refuse
from palea.sharing.metadata import files as metadata
from palea.tables import manifest, opening

EPOCH = (1980, 1, 1, 0, 0, 0)  # the earliest time that a zip can hold; the files' own times say nothing of the data
LEVEL = 6
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


def share(package, path, *, replace=False, journal="", leave_out=()):
    """Check for sharing, make coarse what is sensitive, and write one zip with the methods record and a manifest.

    journal : "whole", "summary" (when, which table, how many changes and why; no values) or "none"; "" for the whole one
    where nothing was withheld, else its summary. leave_out : "table.column" of columns that stay here by choice, of those
    of which the schema says that one is to be asked, as costs.amount. Only what a package tells of goes along: files that
    nothing names stay.
    Returns the path. Raises SharingRefused with the findings while errors stand, PackageError where the file exists, where
    a column cannot be left out, or where the whole journal is asked for though its old values would give away what was
    withheld.
    """
    return told(package, path, replace=replace, journal=journal, leave_out=leave_out)[0]


def told(package, path, *, replace=False, journal="", leave_out=()):
    """The same, with what was done before anything left: (the path, sentences)."""
    path = Path(path)
    if journal not in ("", *JOURNALS):
        msg = f"“{journal}” is no way to share a journal. Choose one of: {', '.join(JOURNALS)}."
        raise PackageError(msg)
    for column in leave_out:
        if column not in redact.may_be_left_out():
            msg = f"“{column}” cannot be left out. These can: {', '.join(redact.may_be_left_out())}."
            raise PackageError(msg)
    if path.exists() and not replace:
        msg = f"{path} exists already. Say --replace to overwrite it."
        raise PackageError(msg)
    refuse(f for f in sharing.check(package) if f.severity == "error")
    if not (journal or leave_out) and _is_as_shared(package):
        write_zip(package.folder, path)
        return path, []
    with tempfile.TemporaryDirectory(prefix="palea-share-") as made:
        copy, said = _copy(package, Path(made) / "package", journal, leave_out)
        write_zip(copy, path)
    return path, said


def _is_as_shared(package):
    """Whether a package is a shared copy to the byte, of which nothing more is to be withheld: it is passed on as it is."""
    is_copy = (package.folder / manifest.NAME).is_file() and not package.edited and not manifest.verify(package.folder)
    if not is_copy:
        return False
    fit, _ = redact.redacted(package)
    return all(fit[name].equals(package[name]) for name in fit.edited)


def _copy(package, folder, journal, leave_out):
    """(a folder with the package as it may be shared, record, environment and manifest; sentences that say what was done)."""
    from palea.record import methods

    travelling.copy(package, folder)
    copied = opening.open_package(folder)
    said = travelling.keep_loose_files_home(copied)
    fit, sentences = redact.redacted(copied, leave_out)
    if sentences and journal == "whole":
        msg = "The whole journal cannot be shared: its old values would give away what is withheld. Choose summary or none."
        raise PackageError(msg)
    hidden = withheld.secrets(copied, fit)
    if sentences:
        copied, told = made_fit(package, copied, hidden, leave_out)
        said += told
    wanted = journal or ("summary" if sentences else "whole")
    if wanted == "summary":
        (folder / SUMMARY).write_text(hidden.out_of(journal_shared.summary(package)), encoding="utf-8")
    if wanted != "whole":
        copied = journal_shared.without(folder, journal_shared.last_stamp(package).when)
    (folder / "environment.json").write_text(
        json.dumps(environment(), indent=1, sort_keys=True) + "\n", encoding="utf-8"
    )
    methods.write(copied, folder / "methods.html", replace=True)
    (folder / "README.md").write_text(_readme(copied, said), encoding="utf-8")
    for name, data in metadata.of(copied, travelling.held(folder), journal_shared.last_stamp(package).when[:10]).items():
        (folder / name).write_bytes(data)
    manifest.write(folder)
    return folder, said


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


def write_zip(folder, path):
    """Write the files of a folder as one zip, each as it is, in the order of their names; the manifest last."""
    files = [folder / name for name in (*manifest.files(folder), manifest.NAME) if (folder / name).is_file()]
    part = path.with_name(path.name + ".tmp")
    with zipfile.ZipFile(part, "w", zipfile.ZIP_DEFLATED, compresslevel=LEVEL) as archive:
        for file in files:
            info = zipfile.ZipInfo(file.relative_to(folder).as_posix(), EPOCH)
            info.compress_type, info.external_attr, info.create_system = zipfile.ZIP_DEFLATED, 0o644 << 16, 3
            archive.writestr(info, file.read_bytes(), compresslevel=LEVEL)
    part.replace(path)
