"""One page for a bag: what is on it, how much lives and how that is known, and nothing that may not be told."""

import pytest

import palea
from palea.documents import html
from palea.documents.page import Gap, Picture, gaps, said, walk
from palea.errors import PaleaError
from palea.record import bag_page, sowing
from palea.record.story import Story


def words(page):
    return " ".join(said(run) for run in walk(page.children) if isinstance(run, str | Gap) or hasattr(run, "text"))


@pytest.fixture(scope="module")
def pellet(package):
    return bag_page.assemble(package, "CC-T08-2")


def test_it_warns_first_and_says_that_it_is_no_legal_label(pellet):
    told = words(pellet)
    assert "Treated seed. Not for food or feed." in told
    assert "no plant passport and no legal label" in told
    assert said(pellet.children[0].children[0].runs).startswith("Treated seed.")


def test_live_seeds_per_gram_follow_from_units_share_and_life(package):
    """By hand from the readings: 1000 / thousand-unit mass, share of units with a seed, living share of the bare lot."""
    live = sowing.live_seeds(Story(package), "CC-T08-2")
    readings = package["readings"]
    mass = readings[readings["test_id"].eq("Q-CC-T08-2-mass-of-units")]
    per_gram = mass["out_of"].sum() / mass["value"].sum()
    opened = readings[readings["test_id"].eq("Q-CC-T08-2-singles-and-multiples") & readings["item"].eq("no seed")]
    holding = 1 - opened["value"].sum() / opened["out_of"].sum()
    bare = palea.run("lots.pure_live_seed", package).results
    bare = bare[bare["lot_id"].eq("CC-T03-2")].set_index("quantity")["estimate"]
    living = bare["live seeds per gram"] / bare["seeds per gram"]
    assert live.value == pytest.approx(per_gram * holding * living, rel=0.01)
    assert live.lower < live.value < live.upper
    assert "not on the product" in live.how


def test_the_rate_is_the_target_over_the_live_seeds(package, pellet):
    live = sowing.live_seeds(Story(package), "CC-T08-2")
    assert f"For 300 live seeds a square metre sow {300 / live.value:.3g} g/m²" in words(pellet)
    assert f"sow {120 / live.value:.3g} g/m²" in words(bag_page.assemble(package, "CC-T08-2", target=120.0))


def test_a_lot_that_nobody_weighed_has_a_gap_and_no_rate(package):
    tests = package["tests"]
    fewer = package.replacing("tests", tests[~tests["test_id"].eq("Q-CC-T08-2-mass-of-units")].reset_index(drop=True))
    told = words(bag_page.assemble(fewer, "CC-T08-2"))
    assert "[not tested: living share or mass of units of this lot]" in told
    assert "a square metre sow" not in told


def test_a_sensitive_place_is_on_its_grid_and_not_named(package, pellet):
    lot = package["lots"].set_index("lot_id").loc["CC-0"]
    told = html.write(pellet)
    assert lot["place"] not in told
    assert "on a grid of 0.1 degrees" in told
    assert f"{lot['latitude']:.3f}" not in told
    assert f"{lot['longitude']:.3f}" not in told


def test_a_place_that_is_withheld_altogether_has_no_numbers(package):
    hidden = words(bag_page.assemble(package.having("taxa", [{"taxon_id": "CC", "place_sensitivity": "extreme"}]), "CC-T08-2"))
    assert "place withheld" in hidden
    assert "grid" not in hidden


def test_a_withheld_recipe_names_who_withholds(package):
    page = bag_page.assemble(package, "CC-T09-1")
    assert "[withheld by Brackwater Coating Yard (invented): what it is made of]" in [gap.text for gap in gaps(page)]


def test_a_dose_is_told_with_its_grade(soaked):
    told = words(bag_page.assemble(soaked, "AM-T10-1"))
    assert "assayed" in told
    assert "150 mg/kg" in told
    assert "H319 Causes serious eye irritation" in told


def test_sow_by_is_known_only_where_something_on_the_seed_dies(soaked, pellet):
    assert "[not recorded: sow-by date]" in [gap.text for gap in gaps(pellet)]
    lively = soaked.having("materials", [{"material_id": "ga3", "role": "inoculant", "expires_on": "2026-03-01"}])
    assert "Sow by 2026-03-01: " in words(bag_page.assemble(lively, "AM-T10-1"))


def test_the_square_code_can_be_read(package, pellet):
    """Read by another program from the drawing itself, as a phone would."""
    zxingcpp = pytest.importorskip("zxingcpp")
    import io

    import vl_convert
    from PIL import Image

    picture = next(thing for thing in walk(pellet.children) if isinstance(thing, Picture))
    image = Image.open(io.BytesIO(vl_convert.svg_to_png(picture.svg, scale=3))).convert("RGBA")
    white = Image.new("RGBA", image.size, "white")
    white.alpha_composite(image)
    (code,) = zxingcpp.read_barcodes(white.convert("L"))
    assert code.text == bag_page.identifier(package, "CC-T08-2")
    assert code.text.endswith("| CC-T08-2")


def test_the_link_is_what_the_code_says_where_there_is_one(package):
    page = bag_page.assemble(package, "CC-T08-2", link="https://doi.org/10.5072/x")
    assert "10.5072" in next(thing for thing in walk(page.children) if isinstance(thing, Picture)).alternative
    assert "its address" not in words(page)


def test_an_unknown_lot_is_refused_with_those_that_there_are(package):
    with pytest.raises(PaleaError, match=r"There is no lot “CC-X”.*CC-0"):
        bag_page.assemble(package, "CC-X")


def test_a_bare_lot_is_not_called_treated(package):
    told = words(bag_page.assemble(package, "CC-0"))
    assert "Treated seed" not in told
    assert "Not for food or feed" in told
