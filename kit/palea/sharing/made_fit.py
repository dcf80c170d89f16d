"""A copy of a package made fit to leave: nothing withheld in any text, id, kept answer or name of a file, or a refusal."""

import shutil
from dataclasses import replace

from palea.analyses import keep
from palea.errors import SharingRefused
from palea.findings import Finding
from palea.sharing import afresh, journal_shared, kept_files, looked_into, redact, scrub, travelling, withheld
from palea.tables import descriptor, opening, saving
from palea.words.prose import counted


def made_fit(package, copied, hidden, leave_out):
    """(the copy without what was withheld, in any text, id or name of a file; sentences that say what was done)."""
    folder = copied.folder
    refuse(_names_that_tell(copied, hidden))
    plain, renamed = scrub.plain_ids(copied, hidden)
    hidden = replace(hidden, ids=tuple(pair for ids in renamed.values() for pair in ids.items()))
    travelling.rename_answers(folder, renamed.get("analyses", {}))
    fit, told = redact.redacted(plain, leave_out)
    travelling.follow_rows(folder, plain, fit)
    telling, dark = looked_into.findings(fit, hidden)
    refuse(telling)
    fit = travelling.with_plain_file_names(fit, hidden)
    fit, many = scrub.scrubbed(fit, hidden)
    own = [path for name in fit.extra_names for path in travelling.files_of(fit.resources[name])]
    answers = [name for name in travelling.held(folder) if name.startswith(f"{keep.FOLDER}/")]
    many += scrub.files(folder, own, hidden) + kept_files.without(folder, answers, fit["results"], hidden)
    many += scrub.own_fields(fit, hidden)
    fit, anew = afresh.followed(copied, fit, renamed)
    if renamed:
        told = [*told, f"New ids in place of those that told what is withheld: {sum(map(len, renamed.values()))}."]
    if anew:
        ids = ", ".join(sorted(keep.analysis_id(outcome) for outcome in anew))
        told = [*told, f"Each group is drawn by a random stream of its name, so ends of intervals were drawn anew in: {ids}."]
    if many:
        told = [*told, f"What was withheld was also taken out of {counted(many, 'text')}, marked {withheld.MARK}."]
    if dark:
        told = [*told, f"These files could not be looked into; see that they tell nothing withheld: {', '.join(sorted(dark))}."]
    fit = fit.describing(informationWithheld=" ".join(told))
    fit = saving.save(fit, journal_shared.last_stamp(package), "redaction", words="Made fit to be shared.")
    if anew:
        fit = keep.keep(fit, anew, journal_shared.last_stamp(package))
    scrub.own_tables(fit, hidden)
    journal_shared.without(folder, journal_shared.last_stamp(package).when)
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


def _forget(folder):
    """Take out of the copy what saving kept beside it: it holds what was just made coarse."""
    for path in folder.iterdir():
        if travelling.stays(path.name):
            shutil.rmtree(path) if path.is_dir() else path.unlink()


def refuse(findings):
    """SharingRefused where there is any finding."""
    errors = list(findings)
    if errors:
        msg = f"{len(errors)} errors stand against sharing; nothing was written."
        raise SharingRefused(msg, errors)
