"""One self-describing archive of a package; the same state gives the same bytes."""

import json
import platform
import re
import shutil
import tempfile
import zipfile
from importlib.metadata import version
from pathlib import Path

from palea.analyses import keep
from palea.checks import sharing
from palea.errors import PackageError, SharingRefused
from palea.findings import Finding
from palea.sharing import looked_into, redact, scrub, travelling, withheld
from palea.sharing.metadata import files as metadata
from palea.stamp import Stamp
from palea.tables import descriptor, manifest, opening, saving

WRITTEN_IN = (f"{keep.FOLDER}/", "schema/")  # folders in whose files words of one's own may stand
MOMENT = re.compile(r"\d{4}-\d\d-\d\dT[\d:.]+(?:Z|[+-]\d\d:\d\d)", re.ASCII)
NEVER = "1980-01-01T00:00:00+00:00"  # of a package without a journal
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
    _refuse(f for f in sharing.check(package) if f.severity == "error")
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


def _refuse(findings):
    """SharingRefused where there is any finding."""
    errors = list(findings)
    if errors:
        msg = f"{len(errors)} errors stand against sharing; nothing was written."
        raise SharingRefused(msg, errors)


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
        copied, told = _made_fit(package, copied, hidden, leave_out)
        said += told
    wanted = journal or ("summary" if sentences else "whole")
    if wanted == "summary":
        (folder / SUMMARY).write_text(hidden.out_of(_summary(package)), encoding="utf-8")
    if wanted != "whole":
        copied = _without_journal(folder, _last_stamp(package).when)
    (folder / "environment.json").write_text(
        json.dumps(environment(), indent=1, sort_keys=True) + "\n", encoding="utf-8"
    )
    methods.write(copied, folder / "methods.html", replace=True)
    (folder / "README.md").write_text(_readme(copied, said), encoding="utf-8")
    for name, data in metadata.of(copied, travelling.held(folder), _last_stamp(package).when[:10]).items():
        (folder / name).write_bytes(data)
    manifest.write(folder)
    return folder, said


def _made_fit(package, copied, hidden, leave_out):
    """(the copy without what was withheld, in any text, id or name of a file; sentences that say what was done)."""
    folder = copied.folder
    _refuse(_names_that_tell(copied, hidden))
    plain, renamed = scrub.plain_ids(copied, hidden)
    travelling.rename_answers(folder, renamed.get("analyses", {}))
    fit, told = redact.redacted(plain, leave_out)
    travelling.follow_rows(folder, plain, fit)
    telling, dark = looked_into.findings(fit, hidden)
    _refuse(telling)
    fit = travelling.with_plain_file_names(fit, hidden)
    fit, many = scrub.scrubbed(fit, hidden)
    own = [path for name in fit.extra_names for path in travelling.paths_of(fit.resources[name])]
    many += scrub.files(folder, [*own, *(n for n in travelling.held(folder) if n.startswith(WRITTEN_IN))], hidden)
    if renamed:
        told = [*told, f"{sum(map(len, renamed.values()))} ids that told what is withheld were put in other words."]
    if many:
        told = [*told, f"What was withheld was also taken out of {many} texts, marked {withheld.MARK}."]
    if dark:
        told = [*told, f"These files could not be looked into; see that they tell nothing withheld: {', '.join(sorted(dark))}."]
    fit = fit.describing(informationWithheld=" ".join(told))
    saving.save(fit, _last_stamp(package), "redaction", words="Made fit to be shared.")
    _without_journal(folder, _last_stamp(package).when)
    _forget(folder)
    return opening.open_package(folder), told


def _names_that_tell(package, hidden):
    """Errors about columns and tables of the package's own whose very names tell what is withheld."""
    for table in package.names:
        for column in package.extra_columns(table).columns:
            if hidden.are_in(column):
                yield _name_tells(table, column, f"The column “{column}” of {table}")
    for name in package.extra_names:
        if any(hidden.are_in(text) for text in (name, *travelling.paths_of(package.resources[name]))):
            yield _name_tells(descriptor.NAME, name, f"The table “{name}”, or its file,")


def _name_tells(table, field, which):
    return Finding(
        "sharing.name-tells-withheld", "error", table, None, field, None,
        f"{which} bears a name that tells what is withheld.", "Give it another name.",
    )  # fmt: skip


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
        if travelling.stays(path.name):
            shutil.rmtree(path) if path.is_dir() else path.unlink()


def _without_journal(folder, when):
    """The copy without its journal, whose old values would give away what was made coarse."""
    (folder / descriptor.JOURNAL).unlink(missing_ok=True)
    raw = descriptor.thaw(descriptor.read(folder))
    raw["resources"] = [r for r in raw["resources"] if r["name"] != "journal"]
    raw["palea"] = raw.get("palea", {}) | {"journal_lines": 0, "journal_hash": "", "last_change": when}
    (folder / descriptor.NAME).write_bytes(descriptor.text(raw))
    return opening.open_package(folder)


def _last_stamp(package):
    """Who and when of the last change: the archive of a state is stamped with that state, not with the hour of sharing.

    A copy that was shared without its journal still says when that was.
    """
    lines = package.journal()
    before = str(descriptor.own_facts(package.descriptor).get("last_change", ""))
    return Stamp("palea share", lines[-1]["when"] if lines else before if MOMENT.fullmatch(before) else NEVER)


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
