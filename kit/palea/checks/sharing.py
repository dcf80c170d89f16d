"""What matters only before a package leaves the house."""

from palea.checks import checklist
from palea.checks.run import findings_of
from palea.findings import Finding, group


def check(package):
    """All findings of the check, and those that only sharing asks for; worst first, grouped."""
    return group([*findings_of(package), *_descriptor(package), *_people(package), *checklist.gaps(package)])


def _descriptor(package):
    """A licence, a title and someone to ask: without these nobody may use the data, or knows whose they are."""
    if not package.descriptor.get("licenses"):
        yield _about_package(
            "sharing.no-licence", "error", "licenses", "No licence is stated, so nobody may use these data.",
            "Choose one, such as CC-BY-4.0 or CC0-1.0, and enter it in datapackage.json under licenses.",
        )
    if not package.descriptor.get("title"):
        yield _about_package(
            "sharing.no-title", "gap", "title", "The package has no title.", "Say in a line what it is about.",
        )
    if not package.descriptor.get("contributors"):
        yield _about_package(
            "sharing.nobody-to-cite", "gap", "contributors", "Nobody is named who made this package.",
            "Enter at least one contributor in datapackage.json, with an ORCID if there is one.",
        )


def _people(package):
    """Names without consent are withheld in the shared copy; the sentence says so before it happens."""
    people = package["people"]
    silent = people[~people["consent_to_publish"].fillna(value=False).astype(bool) & people["name"].notna()]
    for line, person in silent["person_id"].items():
        yield Finding(
            "sharing.no-consent", "warning", "people", int(line) + 2, "consent_to_publish", None,
            f"{person} has not agreed to be named; the shared copy will say “name withheld”.",
            "Ask, and enter true; or leave it so.",
        )


def _about_package(rule, severity, field, message, remedy):
    return Finding(rule, severity, "datapackage.json", None, field, None, message, remedy)
