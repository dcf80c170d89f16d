"""Tagged plants as they are entered: where each stood, what became of it, how high and how heavy it was."""

from palea import schema
from palea.demo.book import weighed
from palea.demo.days import after
from palea.demo.field.seedlings import WEEK
from palea.demo.field.thinned import kept
from palea.demo.field.truth import UNSOWN, field_setting, field_truth


def tagged(book, here, seed):
    """Enter the tagged plants of all sown plots that were not lost, and what was measured of them."""
    for spot in here:
        if spot.arm != UNSOWN and not spot.lost:
            plants = kept(spot, seed)
            cut = chosen(spot, plants)
            for plant in plants:
                _plant(book, spot, plant, plant in cut)
            for plant in plants:
                _measured(book, spot, plant, plant in cut)


def chosen(spot, plants):
    """Those that are cut: of the survivors the first by their tags, so that nobody chooses by size."""
    return [plant for plant in plants if plant.died > _last(spot)][: field_truth()["trials"][spot.trial]["cut"]]


def _last(spot):
    return field_truth()["trials"][spot.trial]["later_weeks"][-1]


def plant_id(spot, plant):
    """The name of a plant: its plot and its tag."""
    return f"{spot.unit_id}-{plant.number}"


def _plant(book, spot, plant, is_cut):
    weeks = field_truth()["trials"][spot.trial]["later_weeks"]
    seen = next((week for week in weeks if plant.died <= week), _last(spot))
    fate = "dead" if plant.died <= _last(spot) else "cut" if is_cut else "alive"
    sown_on = field_setting("sown_on")[spot.trial]
    book.add("plants", plant_id=plant_id(spot, plant), unit_id=spot.unit_id, taxon_id=spot.taxon,
             tagged_at=after(sown_on, WEEK * field_truth()["trials"][spot.trial]["thinned_week"]), x_mm=plant.x_mm,
             y_mm=plant.y_mm, fate=fate, fate_at=after(sown_on, WEEK * seen))


def _measured(book, spot, plant, is_cut):
    """Heights while it lived, its mass if it was cut."""
    for week, height in plant.heights.items():
        if plant.died > week:
            by = field_setting("counters")[spot.trial][str(week)]
            _entered(book, spot, plant, "height", week, round(height), measured_by=by, **field_setting("heights"))
    if is_cut:
        _entered(book, spot, plant, "dry mass", _last(spot), weighed(plant.mass_g), **field_setting("masses"))


def _entered(book, spot, plant, trait, week, value, **row):
    word = schema.word("trait", trait)
    book.add("measurements", measurement_id=f"{plant_id(spot, plant)}-{trait.split()[-1]}-{week}",
             plant_id=plant_id(spot, plant), visit_id=f"{spot.trial}-W{week:02d}", trait=trait, value=value,
             unit=word["unit"], n_plants_pooled=1, destructive=word["takes_plant"], **row)
