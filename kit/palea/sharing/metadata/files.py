"""The side-files of a shared archive: how to cite it, what a repository reads, and what machines read, all made from it."""

import json

from palea.sharing.metadata import about, citation, datacite, linked


def of(package, names, date):
    """{relative path: bytes} for a package whose archive holds the files `names`; the same package gives the same bytes.

    date : of its last change, which a copy without its journal does not tell.
    """
    told = about.of(package, date)
    made = {
        "CITATION.cff": citation.text(told).encode(),
        "datacite.json": _json(datacite.document(told)),
        "dataset.jsonld": _json(linked.dataset(package, told)),
        "zenodo.json": _json(datacite.deposit(told)),
    }
    return made | {"ro-crate-metadata.json": _json(linked.crate(package, told, [*names, *made]))}


def _json(document):
    return (json.dumps(document, ensure_ascii=False, indent=1) + "\n").encode()
