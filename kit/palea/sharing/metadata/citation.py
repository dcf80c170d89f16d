"""CITATION.cff: how to cite a package, in the Citation File Format 1.2.0."""

import json

NOBODY = "name withheld"


def text(about):
    """The file's text. Scalars are written as JSON, which is YAML too, so no title can break out of its line."""
    lines = ["cff-version: 1.2.0", f"message: {_quoted('If you use these data, please cite them as below.')}", "type: dataset",
             f"title: {_quoted(about.title)}", f"abstract: {_quoted(about.description)}", "authors:"]  # fmt: skip
    for creator in about.creators:
        lines += _author(creator)
    if not about.creators:
        lines.append(f"  - name: {_quoted(NOBODY)}")
    lines += [f"license: {_quoted(about.licence)}"] if about.licence else []
    lines += [f"version: {_quoted(about.version)}"] if about.version else []
    lines.append(f"date-released: {_quoted(about.date)}")
    if about.keywords:
        lines += ["keywords:", *(f"  - {_quoted(word)}" for word in about.keywords)]
    return "\n".join(lines) + "\n"


def _author(creator):
    if not creator.is_person:
        return [f"  - name: {_quoted(creator.name)}"]
    given, family = creator.parts
    more = {"given-names": given, "orcid": creator.orcid, "affiliation": creator.organisation}
    return [f"  - family-names: {_quoted(family)}", *(f"    {key}: {_quoted(value)}" for key, value in more.items() if value)]


def _quoted(value):
    return json.dumps(value, ensure_ascii=False)
