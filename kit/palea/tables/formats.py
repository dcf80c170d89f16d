"""One parser a format. Forms, sheets and files read the same way, and say the same when they cannot.

`parse` is for what a person types: it takes a decimal comma and checks limits. `read` is for a cell of a file: a point
only, and no limits (the validator has those). Both give the value and what is wrong with it.
"""

import json
import math
import re
from difflib import get_close_matches

from palea import schema
from palea.tables import dates
from palea.tables.identifiers import IDENTIFIERS
from palea.tables.misfit import Misfit, quoted

NUMBER = r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?"  # also read by RE2, so no look-ahead
INTEGER = r"[+-]?\d{1,18}"  # what surely fits into 64 bits
LONGEST_CELL = 100_000  # characters
_HALF = re.compile(r"\\u[dD][89a-fA-F]")  # how half a character is written in JSON
DEEPEST_JSON = 40
_NUMBER, _INTEGER, _DIGITS = (re.compile(p, re.ASCII) for p in (NUMBER, INTEGER, r"[+-]?\d+"))
_WITH_UNIT = re.compile(rf"({NUMBER})\s*([^\d\s.,].*)", re.ASCII)
_THOUSANDS = re.compile(r"[+-]?[1-9]\d{0,2}(?:,\d{3})+", re.ASCII)
_NUL = "\0"
BOOLEANS = {
    "true": True,
    "True": True,
    "TRUE": True,
    "1": True,
    "false": False,
    "False": False,
    "FALSE": False,
    "0": False,
}
_MEANT = {"true": ("yes", "y", "t", "x", "ja", "oui", "si"), "false": ("no", "n", "f", "nein", "non")}


def parse(field, text):
    """What a person typed into the box of `field` -> (value, sentence). The sentence is "" where all is well.

    field : schema.read.Field.  text : str; blank or None is a missing value, None.
    Takes a decimal comma ("79,0" is 79.0), but not a comma that may part thousands ("1,234"). Checks the limits of the
    field too. The value is None whenever there is a sentence. Never raises.

    >>> from palea import schema
    >>> parse(schema.table("movements")["mass_g"], "79,0")
    (79.0, '')
    """
    text = "" if text is None else str(text).strip()
    if not text:
        return None, f"{field.title} must be filled in." if field.required else ""
    value, misfit = read(field, text, comma=True)
    misfit = misfit or beyond(field, value)
    return (None, str(misfit)) if misfit else (value, "")


def read(field, text, *, comma=False):
    """The text of one cell -> (value, Misfit or None); the value is None where there is a misfit.

    text : str, not empty.  comma : whether a decimal comma is taken.
    """
    if len(text) > LONGEST_CELL:
        return None, Misfit(
            "size", f"This cell holds {len(text)} characters", f"keep it below {LONGEST_CELL}, or attach a file"
        )
    if _NUL in text or any("\ud800" <= c <= "\udfff" for c in text):
        return None, Misfit(
            "encoding",
            f"{quoted(text.lstrip(_NUL))} is no clean UTF-8 text",
            "save the file as CSV in UTF-8, and look at this cell",
        )
    if field.type in ("number", "integer"):
        return _number(field, text, comma)
    if field.type == "boolean":
        return _boolean(field, text)
    return _text(field, text)


def beyond(field, value):
    """The Misfit of a value outside the limits of its field, or None. Lengths and patterns of text are `read`'s."""
    limits = field.constraints
    checks = (
        ("minimum", lambda low: value < low, "or more"),
        ("maximum", lambda high: value > high, "or less"),
        ("exclusiveMinimum", lambda low: value <= low, "or more, but not {0} itself"),
        ("exclusiveMaximum", lambda high: value >= high, "or less, but not {0} itself"),
    )
    for name, fails, side in checks:
        if name in limits and not isinstance(value, str) and fails(limits[name]):
            unit = f" {field.symbol}" if field.symbol else ""
            allowed = f"{limits[name]}{unit} {side.format(limits[name])}"
            return Misfit(
                "range",
                f"{field.title} is {_plain(value)}{unit}, and {allowed} is possible",
                "look for a slip, or a wrong unit",
            )
    return None


def example(field):
    """How the field may be filled in, as advice."""
    if field.example is None or field.example == "":
        return "look at its description"
    shown = str(field.example)
    return f"write {shown} or {shown.replace('.', ',')}" if isinstance(field.example, float) else f"write it as {shown}"


def _number(field, text, comma):
    if comma and _THOUSANDS.fullmatch(text):
        return None, Misfit(
            "number",
            f"{quoted(text)} can be {text.replace(',', '.', 1)} or {text.replace(',', '')}",
            "write one of these, without a comma",
        )
    plain = text.replace(",", ".") if comma and text.count(",") == 1 and "." not in text else text
    if not _NUMBER.fullmatch(plain):
        return None, Misfit("number", f"{quoted(text)} is not a number", _how_to_write(field, text, comma))
    return _integer(field, plain, text) if field.type == "integer" else _real(plain, text)


def _how_to_write(field, text, comma):
    if not comma and text.count(",") == 1 and _NUMBER.fullmatch(text.replace(",", ".")):
        return f"in a file the decimal sign is a point: write {text.replace(',', '.')}"
    found = _WITH_UNIT.fullmatch(text)
    if found and field.unit not in ("", "1"):
        same = found.group(2) == field.unit
        alone = f"write the number alone, {found.group(1)}," if same else "write the number alone, converted if need be,"
        return f"{alone} since the column is in {field.unit}"
    shown = str(field.example)
    return (
        f"write {shown} or {shown.replace('.', ',')}" if comma and "." in shown else f"write {shown}, or leave it blank"
    )


def _integer(field, plain, text):
    if not _DIGITS.fullmatch(plain):
        return None, Misfit(
            "integer",
            f"{quoted(text)} is not a whole number",
            f"{field.title} is counted: write it as {field.example}",
        )
    if not _INTEGER.fullmatch(plain):
        return None, Misfit("integer", f"{quoted(text)} is too large", "look for a slip")
    return int(plain), None


def _real(plain, text):
    value = float(plain)
    if not math.isfinite(value):
        return None, Misfit("number", f"{quoted(text)} is too large", "look for a slip")
    return value, None


def _boolean(field, text):
    if text not in BOOLEANS:
        meant = next((says for says, typed in _MEANT.items() if text.strip().casefold() in typed), "true or false")
        return None, Misfit(
            "boolean", f"{quoted(text)} is neither true nor false", f"write {meant} as {field.title}, or leave it blank"
        )
    return BOOLEANS[text], None


def _text(field, text):
    form = text_form(field)
    reader = PARSERS.get(field.parse) or TYPES.get(field.type)
    misfit = (
        (reader(text) if reader else None)
        or _form(field, form, text)
        or _words(field, form, text)
        or _shape(field, text)
    )
    return (None, misfit) if misfit else (text, None)


def text_form(field):
    """What the schema says about the way the text of a field is written: pattern, separator; empty for plain text."""
    return schema.word("text_format", field.parse) if field.parse else {}


def _form(field, form, text):
    """The Misfit of a text that is not written in its format."""
    if "pattern" in form and not re.fullmatch(form["pattern"], text):
        return Misfit(field.parse, f"{quoted(text)} does not look like {form['title']}", example(field))
    return None


def _words(field, form, text):
    """The Misfit of the first entry that is no allowed word; one entry unless the format has a separator."""
    allowed = field.constraints.get("enum")
    if not allowed:
        return None
    entries = text.split(form["separator"].strip()) if "separator" in form else [text]
    misfits = (_word(field, allowed, entry.strip() if len(entries) > 1 else entry) for entry in entries)
    return next(filter(None, misfits), None)


def _word(field, allowed, entry):
    if entry in allowed:
        return None
    near = _nearest(entry, allowed)
    listed = f"allowed are: {', '.join(allowed[:12])}{' ...' if len(allowed) > 12 else ''}"
    return Misfit(
        "word",
        f"{quoted(entry)} is not a word for {field.title}",
        f"the nearest allowed is “{near}”" if near else listed,
    )


def _nearest(text, allowed):
    """The allowed word that somebody probably meant; "" if none is near."""
    plain = {str(word).casefold().replace(" ", "").replace("-", "").replace("_", ""): word for word in allowed}
    key = text.casefold().replace(" ", "").replace("-", "").replace("_", "")
    near = get_close_matches(key[:80], plain, 1, 0.6)
    return plain[near[0]] if near else ""


def _shape(field, text):
    limits = field.constraints
    if "pattern" in limits and not re.fullmatch(limits["pattern"], text[:LONGEST_CELL]):
        return Misfit("pattern", f"{quoted(text)} does not look like {field.title}", example(field))
    if not limits.get("minLength", 0) <= len(text) <= limits.get("maxLength", LONGEST_CELL):
        return Misfit(
            "length",
            f"{field.title} is {len(text)} characters long",
            f"between {limits.get('minLength', 0)} and {limits.get('maxLength', LONGEST_CELL)} are possible",
        )
    return None


def _json(text):
    try:
        json_of(text)
    except (ValueError, RecursionError) as error:
        return Misfit(
            "json",
            f"{quoted(text)} cannot be read as options: {error}",
            'write them as JSON, as in {"confidence": 0.95}',
        )
    return None


def json_of(text):
    """The value of a JSON text that every reader reads alike and that can be written again; ValueError says what is wrong.

    A name that is there twice, a number beyond all bounds, half a character and lists nested too deep are refused.
    RecursionError where they are nested so deep that it cannot be told how deep.

    >>> json_of('{"a": [1, 2.5]}')
    {'a': [1, 2.5]}
    """
    value = json.loads(text, parse_constant=no_number, parse_float=_finite, object_pairs_hook=_once)
    depth(value)
    if _HALF.search(text):
        _check_whole_characters(value)
    return value


def _check_whole_characters(value):
    try:
        json.dumps(value, ensure_ascii=False).encode()
    except UnicodeEncodeError:
        msg = "it holds half a character, which cannot be written again"
        raise ValueError(msg) from None


def _finite(text):
    value = float(text)
    if math.isinf(value):
        msg = f"{text[:20]} is larger than any number that can be kept"
        raise ValueError(msg)
    return value


def _once(pairs):
    value = dict(pairs)
    if len(value) < len(pairs):
        names = [name for name, _ in pairs]
        msg = f"it says “{next(name for name in names if names.count(name) > 1)[:80]}” twice"
        raise ValueError(msg)
    return value


def no_number(name):
    """For json: NaN and Infinity are no JSON; ValueError."""
    msg = f"{name} is no number"
    raise ValueError(msg)


def depth(value, deepest=DEEPEST_JSON):
    """How deep lists and mappings lie in each other; ValueError beyond `deepest`."""
    level, reached = [value], 0
    while level := [
        inner for v in level if isinstance(v, dict | list) for inner in (v.values() if isinstance(v, dict) else v)
    ]:
        reached += 1
        if reached > deepest:
            msg = f"it is nested more than {deepest} deep"
            raise ValueError(msg)
    return reached


def _check_digit(name):
    def check(text):
        what = IDENTIFIERS[name](text)
        return Misfit(name, f"{quoted(text)} {what}", "compare it with its source, digit by digit") if what else None

    return check


def _plain(value):
    return f"{value:g}" if isinstance(value, float) else str(value)


PARSERS = {"partial date": dates.partial_date, "json": _json, **{name: _check_digit(name) for name in IDENTIFIERS}}
TYPES = {"object": _json}
