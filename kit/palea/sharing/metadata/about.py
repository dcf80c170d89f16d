"""What every kind of metadata says of a package, gathered once: from the descriptor and from people who agreed to be named."""

import re
from dataclasses import dataclass

from palea.derived.facts import plain
from palea.sharing.redact import WITHHELD_NAME

LICENCE_URL = "https://spdx.org/licenses/{}"
ORCID = re.compile(r"(?<!\d)\d{4}-\d{4}-\d{4}-\d{3}[\dX]$")
REMARK = re.compile(r"\s*\([^()]*\)$")  # "B. Sorrel (invented)"


@dataclass(frozen=True)
class Creator:
    """name : as it is written.  orcid : its address, "" for none.  is_person : else an organisation.

    organisation : that a person works for.  ror : the address of an organisation.  Both "" where nobody says.
    """

    name: str
    orcid: str = ""
    is_person: bool = True
    organisation: str = ""
    ror: str = ""

    @property
    def parts(self):
        """(given, family) of a person's name; what is not parted by a space is all family name. A remark in brackets at
        its end stays with the family name.

        >>> Creator("B. Sorrel (invented)").parts
        ('B.', 'Sorrel (invented)')
        """
        remark = REMARK.search(self.name)
        bare = REMARK.sub("", self.name)
        given, _, family = bare.rpartition(" ")
        return given, family + (remark.group() if remark else "")

    @property
    def inverted(self):
        """The name as lists of authors sort it: family name first where it is a person's."""
        given, family = self.parts
        return f"{family}, {given}" if self.is_person and given else self.name


@dataclass(frozen=True)
class About:
    """title, description, licence (SPDX id, "" for none), version, date (of the last change), keywords, creators, species.

    Keywords and creators are each there once, as the formats ask for it.
    """

    title: str
    description: str
    licence: str
    version: str
    date: str
    keywords: tuple[str, ...]
    creators: tuple[Creator, ...]
    species: tuple[str, ...]


def of(package, date):
    """The About of a package as it is shared, last changed on `date`: names without consent are not in it any more."""
    told = package.descriptor
    licences = [x.get("name", "") for x in told.get("licenses", ()) if x.get("name")]
    species = tuple(plain(package["taxa"])["scientific_name"].dropna().unique())
    keywords = dict.fromkeys(word for word in (*map(str, told.get("keywords", ())), *species) if word.strip())
    return About(
        package.title, str(told.get("description") or package.title), licences[0] if licences else "", str(told.get("version", "")),
        date, tuple(keywords), tuple(dict.fromkeys(_creators(package))), species,
    )  # fmt: skip


def agreed(package):
    """People and organisations of the package who agreed to be named: {id: Creator}, in the order of the table."""
    people = plain(package["people"])
    told = people["name"].notna() & people["name"].ne(WITHHELD_NAME)
    named = people["consent_to_publish"].fillna(value=False).astype(bool) & told
    return {
        row["person_id"]: Creator(row["name"], _orcid(row["orcid"]), row["kind"] == "person", _text(row["organisation"]),
                                  "" if row["kind"] == "person" else _text(row["ror"]))
        for row in people[named].to_dict("records")
    }  # fmt: skip


def _creators(package):
    """Contributors of the descriptor; where it names none, the people of the package who agreed to be named."""
    known = {creator.name: creator for creator in agreed(package).values()}
    named = [x for x in package.descriptor.get("contributors", ()) if x.get("title")]
    return [known.get(str(x["title"])) or _contributor(x) for x in named] or list(known.values())


def _contributor(told):
    """A contributor of the descriptor who is not in the table of people."""
    path = str(told.get("path", ""))
    firm = path if "ror.org" in path else ""
    return Creator(str(told["title"]), _orcid(path), not firm, _text(told.get("organization")), firm)


def _orcid(text):
    """The address of an ORCID however it is written; "" where there is none."""
    found = ORCID.search(_text(text).strip().rstrip("/"))
    return f"https://orcid.org/{found.group()}" if found else ""


def _text(value):
    return value if isinstance(value, str) else ""
