"""Columns of a table in a word processor's document are as wide as what they hold asks for."""

import io
import zipfile
from xml.etree import ElementTree as ET

from palea.documents import docx, page

W = "{http://schemas.openxmlformats.org/wordprocessingml/2006/main}"


def widths(grid):
    with zipfile.ZipFile(io.BytesIO(docx.write(page.Page("T", (grid,))))) as inside:
        body = ET.fromstring(inside.read("word/document.xml"))
    return [int(column.get(f"{W}w")) for column in body.iter(f"{W}gridCol")]


def test_a_column_of_sentences_is_wider_than_one_of_numbers_and_all_fill_the_text():
    columns = (page.Column("Lot"), page.Column("g", align="right"), page.Column("Why"))
    rows = tuple(page.Row((("AV-1",), (f"{n}",), ("A sentence of several words that says why.",))) for n in range(3))
    lot, number, why = widths(page.Grid("Lots", columns, rows))
    assert why > 3 * lot > 3 * number / 2
    assert abs(lot + number + why - 170 / 25.4 * 1440) <= 3
