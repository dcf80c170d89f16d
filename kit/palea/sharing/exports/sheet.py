"""One table on its way out: a name, headings and rows, and how it is laid into a CSV or several into a zip."""

import csv
import io
import zipfile
from dataclasses import dataclass

import pandas as pd

EPOCH = (1980, 1, 1, 0, 0, 0)  # the earliest time that a zip can hold; the same tables give the same bytes


@dataclass(frozen=True)
class Sheet:
    """name : of the sheet or file.  columns : its headings.  rows : tuples of text, numbers, True, False; None for blank."""

    name: str
    columns: tuple[str, ...]
    rows: tuple[tuple, ...]

    @classmethod
    def of(cls, name, frame):
        """A frame as a Sheet: its columns as headings, missing values blank, whole numbers whole."""
        columns = [_values(frame[column]) for column in frame.columns]
        return cls(name, tuple(map(str, frame.columns)), tuple(zip(*columns, strict=True)))

    def csv(self):
        """The bytes of a CSV: UTF-8, commas, lines ended by a line feed, text as it is."""
        made = io.StringIO()
        writer = csv.writer(made, lineterminator="\n")
        writer.writerow(self.columns)
        writer.writerows([_written(value) for value in row] for row in self.rows)
        return made.getvalue().encode()


def archive(files):
    """The bytes of a zip of {name: bytes}, in their order."""
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as target:
        for name, data in files.items():
            info = zipfile.ZipInfo(name, EPOCH)
            info.compress_type, info.external_attr, info.create_system = zipfile.ZIP_DEFLATED, 0o644 << 16, 3
            target.writestr(info, data)
    return made.getvalue()


def _values(column):
    """A column as plain Python values, None where it is missing."""
    there = column.notna().to_numpy()
    if pd.api.types.is_float_dtype(column.dtype):
        found = column.to_numpy(float, na_value=float("nan")).tolist()
        found = [int(x) if ok and x.is_integer() else x for x, ok in zip(found, there, strict=True)]
    else:
        found = column.astype(object).tolist()
    return [value if ok else None for value, ok in zip(found, there, strict=True)]


def _written(value):
    """A value as it stands in a CSV: blank, true and false, numbers with all their digits."""
    if value is None:
        return ""
    return str(value).lower() if isinstance(value, bool) else value
