"""A package as text on a desk: rows that anybody could have typed in a spreadsheet, and no rule that stops a wrong one."""

import csv
import hashlib
import io

from palea.tables import descriptor


class Desk:
    """The tables of a package as lists of mappings of text, and its further files.

    Rows may be changed in place, added and taken out; `write` puts all of it back and makes the descriptor fit, so that
    only the mistakes that were planted are wrong.
    """

    def __init__(self, folder):
        self.folder = folder
        self.descriptor = descriptor.thaw(descriptor.read(folder))
        self.files = {}
        self.last = []  # what is to be done after everything else was written
        self._columns, self._rows = {}, {}

    def __getitem__(self, table):
        """The rows of a table."""
        if table not in self._rows:
            with (self.folder / f"data/{table}.csv").open(encoding="utf-8", newline="") as file:
                reader = csv.DictReader(file)
                self._rows[table] = list(reader)
                self._columns[table] = list(reader.fieldnames)
        return self._rows[table]

    def one(self, table, **having):
        """The first row that has these values; StopIteration where none has."""
        return next(row for row in self[table] if all(row[k] == v for k, v in having.items()))

    def add(self, table, **values):
        """Enter a row, the other columns blank, and hand it back."""
        rows = self[table]
        row = dict.fromkeys(self._columns[table], "") | {k: str(v) for k, v in values.items()}
        rows.append(row)
        return row

    def take_out(self, table, keep):
        """Leave only the rows for which `keep` says yes."""
        self._rows[table] = [row for row in self[table] if keep(row)]

    def line(self, table, row):
        """The line that a spreadsheet shows for a row."""
        return next(n for n, one in enumerate(self[table], 2) if one is row)

    def write(self):
        """Write every table that was looked at, the files, and a descriptor with their sizes and hashes."""
        for path, data in self.files.items():
            (self.folder / path).parent.mkdir(parents=True, exist_ok=True)
            (self.folder / path).write_bytes(data)
        for table, rows in self._rows.items():
            self._write(table, rows)
        self._describe()
        for late in self.last:
            late(self)

    def _write(self, table, rows):
        text = io.StringIO(newline="")
        writer = csv.DictWriter(text, self._columns[table], lineterminator="\n", quoting=csv.QUOTE_MINIMAL)
        writer.writeheader()
        writer.writerows(rows)
        (self.folder / f"data/{table}.csv").write_bytes(text.getvalue().encode())

    def _describe(self):
        for resource in self.descriptor["resources"]:
            if resource["name"] in self._rows:
                data = (self.folder / resource["path"]).read_bytes()
                resource |= {"bytes": len(data), "hash": f"sha256:{hashlib.sha256(data).hexdigest()}"}
        self.restate()

    def restate(self):
        """Write the descriptor as it is now."""
        (self.folder / descriptor.NAME).write_bytes(descriptor.text(self.descriptor))
