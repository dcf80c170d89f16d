"""What a sheet's columns mean, as a plain file beside the data: kept once, known again by the sheet's heading."""

import hashlib
import json
import re
from dataclasses import asdict, dataclass, field, fields, replace

from palea.bench.take_in import names, written
from palea.errors import PaleaError
from palea.tables import formats

FOLDER = "mappings"
LARGEST = 1024**2  # bytes of a mapping
VERSION = 1
_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,60}")
_BRACES = re.compile(r"\{([^{}]+)\}")


@dataclass(frozen=True)
class Mapping:
    """All that is to be known of a laboratory's sheet to read it the same way next time.

    table : that it goes into.  sheet : of a workbook.  headings : rows of the heading as a spreadsheet shows them, where
    they had to be said.  trial, outcome, counting, by : where no column says them; `by` is who counted.  dates : in what
    order day and month stand.  decimal : the decimal sign.  offset : of the logger's clock from UTC.  day_zero : the date
    from which days are counted.
    columns : {heading: {"field", "unit", "outcome", "day", "at", "visit", "unit_id", "leave_out"}}, as far as said.
    values : {heading: {as written: as meant}}.  codes : {text among numbers: reason why there is none, or a number}.
    given : {column: text for all rows}, with {Heading} for what stands in that column and {row} for the row's number.
    skip : {heading: [texts]} of rows that are not taken in.
    """

    table: str = ""
    sheet: str = ""
    headings: tuple = ()
    trial: str = ""
    outcome: str = ""
    counting: str = ""
    by: str = ""
    dates: str = ""
    decimal: str = ""
    offset: str = ""
    day_zero: str = ""
    columns: dict = field(default_factory=dict)
    values: dict = field(default_factory=dict)
    codes: dict = field(default_factory=dict)
    given: dict = field(default_factory=dict)
    skip: dict = field(default_factory=dict)
    fingerprint: str = ""

    def over(self, other):
        """One mapping laid over another: what is said here stands, of sets of pairs both."""
        said = {}
        for f in fields(self):
            mine, others = getattr(self, f.name), getattr(other, f.name)
            said[f.name] = {**others, **mine} if isinstance(mine, dict) else mine or others
        return Mapping(**said)

    def of_column(self, heading):
        """What is said of a column, {} for nothing."""
        return self.columns.get(heading, {})


def filled(template, row):
    """A text with {Heading} put in from a row {heading: text}; a heading that is not there stays as it is."""
    return _BRACES.sub(lambda found: row.get(found[1], found[0]), template)


def needs(template):
    """Headings that a text takes in."""
    return _BRACES.findall(template)


def fingerprint(columns):
    """What a heading is known by next time: its names; days and dates differ from sheet to sheet, so they are one sign."""
    signs = ["·".join(_sign(part) for part in parts) for parts in columns]
    kept = [s for n, s in enumerate(signs) if not (n and s == signs[n - 1])]
    return "sha256:" + hashlib.sha256("\n".join(kept).encode()).hexdigest()


def _sign(part):
    if written.is_date(part):
        return "<date>"
    return "<day>" if names.day(part) is not None else names.plain(part)


def text(mapping):
    """A mapping as JSON, what is not said left out."""
    said = {k: v for k, v in asdict(mapping).items() if v}
    return json.dumps({"palea_mapping": VERSION, **said}, ensure_ascii=False, indent=1) + "\n"


def parse(data, where):
    """A Mapping from JSON bytes. PaleaError with what is wrong and where."""
    if len(data) > LARGEST:
        _refuse(where, "it is far too long")
    try:
        raw = json.loads(data.decode("utf-8-sig"), parse_constant=formats.no_number)
        formats.depth(raw)
    except (ValueError, RecursionError) as fault:
        _refuse(where, f"it cannot be read as JSON ({fault})")
    if not isinstance(raw, dict) or raw.get("palea_mapping", VERSION) != VERSION:
        _refuse(where, "it is no mapping of this kind")
    known = {f.name: f for f in fields(Mapping)}
    odd = sorted(set(raw) - set(known) - {"palea_mapping", "name"})
    if odd:
        _refuse(where, f"“{odd[0]}” is nothing that it can say; it can say {', '.join(known)}")
    said = {k: v for k, v in raw.items() if k in known}
    for name, value in said.items():
        _check(where, name, value, getattr(Mapping(), name))
    return Mapping(**said | {"headings": tuple(said.get("headings", ()))})


def _check(where, name, value, like):
    if isinstance(like, str) and not isinstance(value, str):
        _refuse(where, f"“{name}” must be a text")
    if name == "headings" and not (isinstance(value, list) and all(isinstance(n, int) and n > 0 for n in value)):
        _refuse(where, "“headings” must be a list of row numbers, as in [3, 4]")
    if isinstance(like, dict) and not isinstance(value, dict):
        _refuse(where, f'“{name}” must be a set of pairs, as in {{"NA": "not recorded"}}')
    if name == "dates" and value not in ("", *written.ORDERS):
        _refuse(where, f"“dates” is “{value}”; it can be {' or '.join(written.ORDERS)}")
    deeper = {"columns": dict, "values": dict, "skip": list, "codes": (str, int), "given": str}.get(name)
    wrong = deeper and isinstance(value, dict) and next((k for k, v in value.items() if not isinstance(v, deeper)), None)
    if wrong:
        _refuse(where, f"what “{name}” says of “{wrong}” is of the wrong kind")


def _refuse(where, why):
    msg = f"The mapping {where} was not used: {why}. Mend it, or leave it out and say what the sheet means."
    raise PaleaError(msg) from None


def kept(package):
    """{name: Mapping} of all that the package keeps; one that cannot be read is left out."""
    folder = package.file(FOLDER)
    found = {}
    for path in sorted(folder.glob("*.json")) if folder.is_dir() else ():
        if _NAME.fullmatch(path.stem) and not path.is_symlink() and path.stat().st_size <= LARGEST:
            try:
                found[path.stem] = parse(path.read_bytes(), path.name)
            except PaleaError:
                continue
    return found


def known(package, columns):
    """(name, Mapping) kept for a sheet with this heading; ("", Mapping()) where there is none."""
    sign = fingerprint(columns)
    return next(((n, m) for n, m in kept(package).items() if m.fingerprint == sign), ("", Mapping()))


def path_of(name):
    """Where a mapping of that name lies in the package."""
    return f"{FOLDER}/{re.sub(r'[^A-Za-z0-9._-]+', '-', name).strip('-._')[:60] or 'sheet'}.json"


def file_of(name, mapping, columns):
    """{path in the package: bytes} under which a mapping is kept."""
    return {path_of(name): text(replace(mapping, fingerprint=fingerprint(columns))).encode()}
