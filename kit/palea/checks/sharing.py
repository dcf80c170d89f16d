"""What matters only before a package leaves the house."""

from palea import schema
from palea.calc.places import on_grid
from palea.checks import attached, checklist
from palea.checks.run import findings_of
from palea.derived.facts import plain
from palea.findings import Finding, group
from palea.tables import manifest

FINE = 1e-6  # degrees


def check(package):
    """All findings of the check, and those that only sharing asks for; worst first, grouped."""
    own = (
        _descriptor(package),
        _people(package),
        places(package),
        attached.positions(package),
        checklist.gaps(package),
    )
    return group([*findings_of(package), *(finding for some in own for finding in some)])


def is_shared_copy(package):
    """Whether this is a copy that left a house: `palea share` lays a manifest into it."""
    return (package.folder / manifest.NAME).is_file()


def places(package):
    """In a copy that left the house no place of a sensitive taxon or site is finer than its grid."""
    if not is_shared_copy(package):
        return
    lots, sites, taxa = (plain(package[name]) for name in ("lots", "sites", "taxa"))
    of_taxon = taxa.drop_duplicates("taxon_id").set_index("taxon_id")["place_sensitivity"]
    for table, rows, sensitivity in (
        ("lots", lots, lots["taxon_id"].map(of_taxon)), ("sites", sites, sites["place_sensitivity"]),
    ):  # fmt: skip
        for line in rows.index[_too_fine(rows, sensitivity)]:
            row, level = rows.loc[line], sensitivity[line]
            yield Finding(
                "sharing.exact-place",
                "error",
                table,
                int(line) + 2,
                "latitude",
                f"{row['latitude']:g}",
                f"{row.iloc[0]}: the place, {row['latitude']:g}, {row['longitude']:g}, is finer than the sensitivity "
                f"“{level}” allows.",
                "Take this copy back, and share the package with `palea share`, which puts such places on a grid.",
            )


def _too_fine(rows, sensitivity):
    """Rows whose place is not that of its grid cell; extreme places may not be there at all."""
    cell = sensitivity.map(
        {w: schema.word("place_sensitivity", w)["grid_deg"] for w in schema.words("place_sensitivity")}
    ).astype(float)
    there = rows["latitude"].notna() & rows["longitude"].notna()
    withheld = sensitivity.isin(schema.words("place_sensitivity", grid_deg=None)) & there
    width = cell.where(cell.gt(0))
    off = [(on_grid(rows[c], width) - rows[c]).abs() > FINE for c in ("latitude", "longitude")]
    return withheld | (there & width.notna() & (off[0] | off[1]))


def _descriptor(package):
    """A licence, a title and someone to ask: without these nobody may use the data, or knows whose they are."""
    if not package.descriptor.get("licenses"):
        yield _about_package(
            "sharing.no-licence",
            "error",
            "licenses",
            "No licence is stated, so nobody may use these data.",
            "Choose one, such as CC-BY-4.0 or CC0-1.0, and enter it in datapackage.json under licenses.",
        )
    if not package.descriptor.get("title"):
        yield _about_package(
            "sharing.no-title",
            "gap",
            "title",
            "The package has no title.",
            "Say in a line what it is about.",
        )
    if not package.descriptor.get("contributors"):
        yield _about_package(
            "sharing.nobody-to-cite",
            "gap",
            "contributors",
            "Nobody is named who made this package.",
            "Enter at least one contributor in datapackage.json, with an ORCID if there is one.",
        )


def _people(package):
    """Names without consent are withheld in the shared copy; the sentence says so before it happens."""
    people = package["people"]
    silent = people[~people["consent_to_publish"].fillna(value=False).astype(bool) & people["name"].notna()]
    for line, person in silent["person_id"].items():
        yield Finding(
            "sharing.no-consent",
            "warning",
            "people",
            int(line) + 2,
            "consent_to_publish",
            None,
            f"{person} has not agreed to be named; the shared copy will say “name withheld”.",
            "Ask, and enter true; or leave it so.",
        )


def _about_package(rule, severity, field, message, remedy):
    return Finding(rule, severity, "datapackage.json", None, field, None, message, remedy)
