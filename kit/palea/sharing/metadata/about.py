"""What every kind of metadata says of a package, gathered once: from the descriptor and from people who agreed to be named."""

from dataclasses import dataclass

from palea.derived.facts import plain
from palea.sharing.redact import WITHHELD_NAME

LICENCE_URL = "https://spdx.org/licenses/{}"


@dataclass(frozen=True)
class Creator:
    """name : as it is written.  orcid : its address, "" for none.  is_person : else an organisation."""

    name: str
    orcid: str = ""
    is_person: bool = True

    @property
    def parts(self):
        """(given, family) of a person's name; what is not parted by a space is all family name."""
        given, _, family = self.name.rpartition(" ")
        return given, family


@dataclass(frozen=True)
class About:
    """title, description, licence (SPDX id, "" for none), version, date (of the last change), keywords, creators, species."""

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
    species = tuple(plain(package["taxa"])["scientific_name"].dropna())
    return About(
        package.title, str(told.get("description") or package.title), licences[0] if licences else "", str(told.get("version", "")),
        date, (*map(str, told.get("keywords", ())), *species), _creators(package), species,
    )  # fmt: skip


def _creators(package):
    """Contributors of the descriptor; where it names none, the people of the package who agreed to be named."""
    named = [x for x in package.descriptor.get("contributors", ()) if x.get("title")]
    if named:
        return tuple(Creator(str(x["title"]), path if "orcid.org" in (path := str(x.get("path", ""))) else "") for x in named)
    people = plain(package["people"])
    agreed = people[people["consent_to_publish"].fillna(value=False).astype(bool) & people["name"].ne(WITHHELD_NAME)]
    return tuple(
        Creator(row["name"], row["orcid"] if isinstance(row["orcid"], str) else "", row["kind"] == "person")
        for row in agreed.to_dict("records") if isinstance(row["name"], str)
    )  # fmt: skip
