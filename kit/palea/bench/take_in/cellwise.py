"""One cell of a sheet as the text that a table holds: decimal sign, unit, date, code, identifier; or why not."""

from types import MappingProxyType

from palea import schema
from palea.bench.take_in import written
from palea.tables import formats


class Cells:
    """How the cells of a file are read. order : written.Order.order.  codes : {text in small letters: what it means}."""

    def __init__(self, notes, mapping, *, decimal, order, offset=""):
        self.notes, self.decimal, self.order, self.offset = notes, decimal, order, offset
        self.codes = {str(k).strip().casefold(): str(v) for k, v in mapping.codes.items()}
        self.typed = {}  # {column of the table: {"unit", "factor", texts by row}} of values that were converted

    def read(self, of, row, column, text, factor=1.0):
        """(text as the table holds it, reason why there is none) of a cell of field `of`; (None, "") where it is told."""
        text, reason = self.meant(of, text)
        if reason or not text:
            return "", reason
        if of.type in ("number", "integer"):
            return self._number(of, row, column, text, factor), ""
        if of.parse == "partial date":
            return self._date(row, column, text), ""
        value, misfit = formats.read(of, self._word(of, text))
        if misfit:
            self.notes.cell(row, column, misfit.rule, misfit.message, _sentence(misfit.remedy))
            return None, ""
        return str(value), ""

    def meant(self, of, text):
        """(text, reason) after the codes of the mapping; a code among numbers is a reason or a number."""
        if of.type not in ("number", "integer") and not of.parse:
            return text, ""
        said = self.codes.get(text.strip().casefold())
        if said is None:
            said = text
        return ("", said) if said in schema.words("missing_reason") else (said, "")

    def _number(self, of, row, column, text, factor):
        plain = written.number(text.removesuffix("%").strip() if of.unit.startswith("%") else text, self.decimal)
        if factor != 1:
            plain = written.times(plain, factor)
        elif of.type == "integer":
            plain = written.whole(plain)
        value, misfit = formats.read(of, plain)
        misfit = misfit or formats.beyond(of, value)
        if misfit:
            remedy = _sentence(misfit.remedy) if written.is_number(text) else self._how_to_say(text)
            self.notes.cell(row, column, "number", misfit.message, remedy)
            return None
        return str(value)

    @staticmethod
    def _how_to_say(text):
        return (
            f'Say what it means, as a reason or a number: --code "{text}=not recorded" (reasons: '
            f"{', '.join(schema.words('missing_reason'))}); or correct the cell."
        )

    def _date(self, row, column, text):
        told, fault = written.moment(text, self.order, self.offset)
        if fault:
            self.notes.cell(row, column, "date", fault, "Correct it, or say --dates “day first” or “month first”.")
            return None
        return told

    @staticmethod
    def _word(of, text):
        """A word of a list by its title, and truth as people write it."""
        if of.type == "boolean":
            return {"yes": "true", "y": "true", "x": "true", "ja": "true", "oui": "true", "no": "false", "n": "false",
                    "nein": "false", "non": "false"}.get(text.casefold(), text)  # fmt: skip
        if not of.vocabulary:
            return text
        words = schema.vocabulary(of.vocabulary).words
        if of.vocabulary == "unit" and text not in words:
            return written.unit(text) or text
        wanted = text.casefold()
        return next((n for n, w in words.items() if wanted in (n.casefold(), str(w.get("title", "")).casefold())), text)


def _sentence(text):
    text = text.strip()
    return text[:1].upper() + text[1:] + ("" if text.endswith(".") else ".")


NAMES = MappingProxyType({
    "people": ("name",), "taxa": ("scientific_name", "name_as_received"), "units": ("code",), "equipment": ("serial",),
})  # fmt: skip


class Ids:
    """Identifiers of a package's tables as people write them: the id, in any case of letters, or a name of the row."""

    def __init__(self, package):
        self.package, self._known = package, {}

    def find(self, table, text):
        """The id of the row that a text names; None where none or several do."""
        known = self._of(table)
        return known.get(text) or known.get(text.casefold())

    def _of(self, table):
        if table not in self._known:
            frame, key = self.package[table], schema.table(table).primary_key[0]
            known = {}
            for name in [n for n in NAMES.get(table, ()) if n in frame]:
                once = frame.dropna(subset=[name]).drop_duplicates(name, keep=False)
                known |= {str(t).casefold(): i for t, i in zip(once[name], once[key], strict=True)}
            ids = frame[key].dropna().tolist()
            known |= {str(i).casefold(): i for i in ids}
            self._known[table] = known | {i: i for i in ids}
        return self._known[table]
