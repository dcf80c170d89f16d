"""The one way out: a package, the name of a form, and the file to write."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from palea.documents import files
from palea.errors import PaleaError
from palea.sharing.exports import book, darwin_core, miappe, passport, whole
from palea.sharing.exports.fit import fit
from palea.sharing.exports.sheet import archive


@dataclass(frozen=True)
class Form:
    """title : what it is.  sheets : of a package that may be shared, with sentences.  endings : files it can be written as.

    files : {name: bytes} of an archive of these sheets; a CSV of each unless the standard asks for more.
    """

    title: str
    sheets: Callable
    endings: tuple[str, ...]
    files: Callable = lambda made: {f"{sheet.name}.csv": sheet.csv() for sheet in made}


FORMS = {
    "miappe": Form("tables by MIAPPE 1.1, for phenotyping data", miappe.sheets, (".xlsx", ".zip")),
    "darwin-core": Form(
        "a Darwin Core archive of the wild collections", darwin_core.sheets, (".zip",), darwin_core.files
    ),
    "mcpd": Form("passport rows of a gene bank (MCPD 2.1)", passport.sheets, (".csv", ".xlsx")),
    "workbook": Form("every table in one spreadsheet", whole.sheets, (".xlsx",)),
}


def write(package, form, path, *, replace=False, leave_out=()):
    """Write a package in a form of others, as it may be shared; sentences about what is missing, withheld or left out.

    form : a name of FORMS.  path : its ending says which file is written.  leave_out : as in `share`.
    Raises PaleaError for a form or ending that does not exist and a file that is there, SharingRefused with its findings
    where the package may not be shared as it is.
    """
    if form not in FORMS:
        msg = f"There is no form “{form}”. Choose one of: {', '.join(FORMS)}."
        raise PaleaError(msg)
    ending = Path(path).suffix.lower()
    allowed = FORMS[form].endings
    if ending not in allowed:
        msg = f"{path} ends in “{Path(path).suffix}”. The form {form} is written as {' or '.join(allowed)}."
        raise PaleaError(msg)
    said = []

    def content():
        with fit(package, leave_out) as open_copy:
            made, told = FORMS[form].sheets(open_copy)
            withheld = open_copy.descriptor.get("informationWithheld")
            data, cut = _laid(FORMS[form], made, ending)
        said.extend([*told, *cut, *([str(withheld)] if withheld else [])])
        return data

    files.put(content, path, replace=replace)
    return said


def _laid(form, made, ending):
    """(bytes of the sheets in the kind of file that was asked for, sentences about what did not fit)."""
    if ending == ".xlsx":
        return book.workbook(made)
    return (made[0].csv() if ending == ".csv" else archive(form.files(made))), []
