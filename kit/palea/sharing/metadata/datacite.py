"""Metadata for a DOI, in the JSON of the DataCite schema 4; the identifier is given by whoever registers it."""

from palea.sharing.metadata.about import LICENCE_URL
from palea.sharing.metadata.citation import NOBODY


def document(about):
    """The document as plain data. `publisher` is to be filled in by the repository that takes the package."""
    creators = [_creator(c) for c in about.creators] or [{"name": NOBODY, "nameType": "Organizational"}]
    rights = [{"rights": about.licence, "rightsIdentifier": about.licence, "rightsIdentifierScheme": "SPDX",
               "rightsUri": LICENCE_URL.format(about.licence)}] if about.licence else []  # fmt: skip
    return {
        "schemaVersion": "http://datacite.org/schema/kernel-4",
        "types": {"resourceTypeGeneral": "Dataset", "resourceType": "Data package"},
        "creators": creators, "titles": [{"title": about.title}], "publisher": {"name": "(:unav)"},
        "publicationYear": about.date[:4], "dates": [{"date": about.date, "dateType": "Updated"}], "language": "en",
        "subjects": [{"subject": word} for word in about.keywords], "rightsList": rights,
        "descriptions": [{"description": about.description, "descriptionType": "Abstract"}],
        "formats": ["text/csv", "application/json"],
        **({"version": about.version} if about.version else {}),
    }  # fmt: skip


def _creator(creator):
    told = {"name": creator.inverted, "nameType": "Personal" if creator.is_person else "Organizational"}
    given, family = creator.parts
    if creator.is_person and given:
        told |= {"givenName": given, "familyName": family}
    for name, address, of in (("ORCID", "https://orcid.org", creator.orcid), ("ROR", "https://ror.org", creator.ror)):
        if of:
            scheme = {"nameIdentifierScheme": name, "schemeUri": address}
            told.setdefault("nameIdentifiers", []).append({"nameIdentifier": of, **scheme})
    return told | ({"affiliation": [{"name": creator.organisation}]} if creator.organisation else {})


def deposit(about):
    """.zenodo.json: what a general repository reads when an archive is laid there."""
    creators = [
        {"name": c.inverted, **({"affiliation": c.organisation} if c.organisation else {}),
         **({"orcid": c.orcid.rpartition("/")[2]} if c.orcid else {})}
        for c in about.creators
    ]  # fmt: skip
    return {
        "title": about.title, "upload_type": "dataset", "description": about.description, "access_right": "open",
        "publication_date": about.date, "creators": creators or [{"name": NOBODY}], "keywords": list(about.keywords),
        **({"license": about.licence.lower()} if about.licence else {}),
        **({"version": about.version} if about.version else {}),
    }  # fmt: skip
