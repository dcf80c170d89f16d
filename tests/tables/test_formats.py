"""What a person types, and what we say when we cannot take it.

Outside: check digits of CAS, ORCID and ROR against identifiers that their registries publish; Python's own float,
int and
date for the values.
"""

from datetime import date

import pytest

from palea import schema
from palea.schema.read import Field
from palea.tables import formats, identifiers

MASS = schema.table("movements")["mass_g"]
COUNT = schema.table("counts")["count"]
DAY = schema.table("movements")["moved_at"]


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("79,0", 79.0),
        ("79.0", 79.0),
        (" 80 ", 80.0),
        ("0,125", 0.125),
        ("1e-3", 0.001),
        ("+5", 5.0),
        (".5", 0.5),
        ("", None),
        (None, None),
        ("1234,5", 1234.5),
        ("0", 0.0),
    ],
)
def test_numbers_as_people_type_them(text, value):
    assert formats.parse(MASS, text) == (value, "")


@pytest.mark.parametrize(
    ("text", "starts"),
    [
        ("ca. 79", "“ca. 79” is not a number; write "),
        ("79 g", "“79 g” is not a number; write the number alone, 79, since the column is in g."),
        ("1,234", "“1,234” can be 1.234 or 1234; write one of these, without a comma."),
        ("1.234,5", "“1.234,5” is not a number; write 300.0 or 300,0"),
        ("79 mg", "“79 mg” is not a number; write the number alone, converted if need be, since the column is in g."),
        ("12,345,678", "“12,345,678” can be "),
        ("1.2.3", "“1.2.3” is not a number"),
        ("NaN", "“NaN” is not a number"),
        ("1e999", "“1e999” is too large"),
        ("-1", "Mass is -1 g, and 0 g or more is possible"),
        ("٣", "“٣” is not a number"),
        ("1_000", "“1_000” is not a number"),
    ],
)
def test_what_is_no_mass_is_told(text, starts):
    value, sentence = formats.parse(MASS, text)
    assert value is None
    assert sentence.startswith(starts)


@pytest.mark.parametrize(("text", "expected"), [("12", (12, "")), ("12,0", None), ("12.5", None), ("9" * 30, None)])
def test_whole_numbers(text, expected):
    found = formats.parse(COUNT, text)
    assert found == expected if expected else found[0] is None and found[1]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("07/08/2023", "“07/08/2023” can be 7 August 2023 or 8 July 2023; write 2023-08-07 or 2023-07-08."),
        ("13/08/2023", "“13/08/2023” is not written as year, month, day; write 2023-08-13."),
        ("08/08/2023", "“08/08/2023” is not written as year, month, day; write 2023-08-08."),
        ("31.02.2023", "“31.02.2023” is no day in the calendar; "),
        ("2026-02-30", "There is no day 2026-02-30 in the calendar; look at the sheet again"),
        ("soon", "“soon” is not a date that palea reads; "),
        ("45123", "“45123” is how a spreadsheet keeps 2023-07-16 (or, in a workbook that counts from 1904, another day); "),
        ("03/04/26", "“03/04/26” can be several days; write the year with four digits"),
        ("11/820", "“11/820” is not a date that palea reads; "),
        ("12345678", "“12345678” is not a date that palea reads; "),
    ],
)
def test_dates_that_cannot_be_taken(text, says):
    assert formats.parse(DAY, text)[1].startswith(says)


@pytest.mark.parametrize("text", ["2026", "2026-02", "2026-02-28", "2024-02-29T09:30", "2026-02-28T09:30:10+02:00"])
def test_dates_as_far_as_known(text):
    assert formats.parse(DAY, text) == (text, "")


def test_a_required_box_left_blank_is_told():
    assert formats.parse(DAY, "") == (None, f"{DAY.title} must be filled in.")


def test_a_word_near_an_allowed_one_is_named():
    field = schema.table("movements")["kind"]
    assert (
        formats.parse(field, "Sent-Out")[1]
        == f"“Sent-Out” is not a word for {field.title}; the nearest allowed is “sent out”."
    )
    assert "allowed are: received, made, " in formats.parse(field, "zzz")[1]


def test_lists_and_options():
    looked_for, options = schema.table("visits")["looked_for"], schema.table("analyses")["options"]
    assert formats.parse(looked_for, "normal; abnormal") == ("normal; abnormal", "")
    assert formats.parse(looked_for, "normal; abnrml")[0] is None
    assert formats.parse(options, '{"confidence": 0.9}') == ('{"confidence": 0.9}', "")
    for wrong in ("{", '{"a": NaN}', "[" * 100 + "]" * 100, "[" * 50_000 + "]" * 50_000):
        assert formats.parse(options, wrong)[1].startswith("“")


# Published: 50-00-0 formaldehyde, 7732-18-5 water, 74-98-6 propane, 7664-93-9 sulfuric acid, 77-06-5 gibberellic acid
# (open chemistry data bases); ORCID's own sample iD and those in its documentation; ROR's documentation.
@pytest.mark.parametrize("number", ["50-00-0", "7732-18-5", "74-98-6", "7664-93-9", "77-06-5"])
def test_cas_numbers_and_every_slip_of_one_digit(number):
    assert identifiers.cas(number) == ""
    for i, digit in enumerate(number[:-1]):
        if digit.isdigit():
            slipped = number[:i] + str((int(digit) + 1) % 10) + number[i + 1 :]
            assert identifiers.cas(slipped)


@pytest.mark.parametrize("number", ["0000-0002-1825-0097", "0000-0001-5109-3700", "0000-0002-1694-233X"])
def test_orcid_ids_and_swapped_digits(number):
    assert identifiers.orcid(number) == ""
    assert identifiers.orcid(f"https://orcid.org/{number}") == ""
    assert identifiers.orcid(number[:-1] + ("0" if number[-1] != "0" else "1"))


@pytest.mark.parametrize("number", ["05dxps055", "02mhbdp94", "05gq02987", "03yrm5c26", "04wxnsj81"])
def test_ror_ids(number):
    assert identifiers.ror(f"https://ror.org/{number}") == ""
    assert identifiers.ror(number[:-1] + str((int(number[-1]) + 1) % 10))


def test_limits_are_told_with_unit():
    field = Field("x", "Water content", "", "number", unit="%", constraints={"exclusiveMaximum": 100})
    assert formats.beyond(field, 99.9) is None
    assert "not 100 itself" in str(formats.beyond(field, 100.0))


@pytest.mark.parametrize("day", [date(2024, 2, 29), date(1999, 12, 31), date(2026, 1, 1)])
def test_local_dates_give_the_right_reading(day):
    """Law: whatever reading we name is a day that, written the local way, gives the text back."""
    text = f"{day.day:02d}/{day.month:02d}/{day.year}"
    assert day.isoformat() in formats.parse(DAY, text)[1]


def test_every_example_of_the_schema_is_taken():
    for table in schema.tables().values():
        for field in table.fields.values():
            if field.example not in (None, ""):
                text = str(field.example).lower() if isinstance(field.example, bool) else str(field.example)
                assert formats.parse(field, text)[1] == "", f"{table.name}.{field.name}"


@pytest.mark.parametrize("serial", [20000, 36526, 45123, 60000, 79999])
def test_a_spreadsheets_serial_is_the_day_that_pandas_makes_of_it(serial):
    """Outside: pandas counts days from an origin; 1899-12-30 is the one that its readers of workbooks use."""
    import pandas as pd

    day = pd.to_datetime(serial, unit="D", origin="1899-12-30").date().isoformat()
    assert f"write {day};" in formats.parse(DAY, str(serial))[1]


@pytest.mark.parametrize(("text", "meant"), [("yes", "true"), ("No", "false"), ("ja", "true"), ("perhaps", "true or false")])
def test_yes_and_no_are_told_as_true_and_false(text, meant):
    blind = schema.table("visits")["blind"]
    assert formats.parse(blind, text) == (
        None, f"“{text}” is neither true nor false; write {meant} as {blind.title}, or leave it blank."
    )
    assert [formats.parse(blind, digit) for digit in "10"] == [(True, ""), (False, "")]
