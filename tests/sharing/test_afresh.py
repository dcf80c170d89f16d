"""Answers that were kept follow the ids they are about: the same data, and what hangs on a name is drawn anew."""

import palea
from palea.analyses import keep
from palea.sharing import afresh, recorded, scrub, withheld
from palea.tables.opening import open_package
from palea.tables.saving import save

OLDER = f"sha256:{'0' * 64}"  # of nothing


def grown(package):
    """The package with eight more rows of each kind, of which other numbers came up: with two there is little to draw."""
    rows, counts = (package[name].to_dict("records") for name in ("units", "counts"))
    more = [r | {"unit_id": f"{r['unit_id']}-{n}", "grid_row": 10 + n} for r in rows if r["kind"] == "row" for n in range(8)]
    known = [c for c in counts if c["count"] is not None]
    seen = [c | {"unit_id": f"{c['unit_id']}-{n}", "count": c["count"] + 2 * n} for c in known for n in range(8)]
    return package.having("units", more).having("counts", seen)


def test_answers_follow_their_ids_and_draws_are_made_anew(small, stamp, tmp_path):
    folder = tmp_path / "p"
    package = palea.new_package(folder, "P", stamp, licence="CC0-1.0", invented=True)
    for name in small.names:
        if name not in ("analyses", "results") and len(small[name]):
            package = package.having(name, small[name])
    package = save(grown(package), stamp, "entry", words="Typed.")
    outcomes = [palea.run("decision.losses", package), palea.run("emergence.final", package, trial="F")]
    package = keep.keep(package, outcomes, stamp, figures=False)
    older = package["analyses"].assign(data_hash=package["analyses"]["data_hash"].mask([False, True], OLDER))

    renamed_in, renamed = scrub.plain_ids(package.replacing("analyses", older), withheld.Secrets(("E",), ()))
    assert renamed["environments"] == {"E": "environment-1"}
    fit, anew = afresh.followed(package.replacing("analyses", older), renamed_in, renamed)
    losses, emergence = (recorded.of(row) for row in fit["analyses"].to_dict("records"))
    assert losses.still_fits(fit) is True
    assert emergence.data_hash == OLDER, "what was older than its data before stays so"
    assert [outcome.recipe.id for outcome in anew] == ["decision.losses"]
    kept = open_package(keep.keep(save(fit, stamp, "redaction", words="Ids."), anew, stamp, figures=False).folder)
    assert "environment-1" in set(kept["results"]["environment_id"].dropna())
    assert palea.rerun(kept.folder).count("identical") >= 2


def test_without_new_names_nothing_is_drawn(small):
    fit, anew = afresh.followed(small, small, {})
    assert anew == []
    assert fit["analyses"].equals(small["analyses"])
