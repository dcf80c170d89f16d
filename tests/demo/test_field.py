"""The field half of the demo: plots that keep their books, seedlings that fare as the truth says, verdicts as foreseen."""

from collections import Counter
from itertools import combinations
from math import exp, hypot

import pandas as pd
import pytest

from palea.demo.field.crowded import standing_later
from palea.demo.field.follow import contrasts, sow_and_follow
from palea.demo.field.layout import spots, treatment_id
from palea.demo.field.seedlings import followed
from palea.demo.field.seeds import search
from palea.demo.field.thinned import kept, standing
from palea.demo.field.truth import field_setting, field_truth, in_field
from palea.demo.field.weather import weather
from palea.demo.lots import one_batch
from palea.demo.truth import species, truth

SPECIES = ("AV", "CC", "AM")
SEED = field_truth()["seed"]["value"]


class Sown:
    """A book that has every lot: what the field enters, and what it draws, without the laboratory before it."""

    def __init__(self):
        self.rows, self.files, self.drawn, self.seed = {}, {}, Counter(), truth()["seed"]["value"]

    def add(self, table, **row):
        self.rows.setdefault(table, []).append(row)

    def move(self, lot_id, moved_at, kind, *, units, trial_id, **more):
        self.drawn[lot_id, trial_id] += units
        self.add("movements", lot_id=lot_id, moved_at=moved_at, kind=kind, seed_units=units, trial_id=trial_id, **more)

    def attach(self, attachment_id, path, data, **row):
        self.files[path] = data
        self.add("attachments", attachment_id=attachment_id, path=path, **row)


def entered(*taxa):
    book = Sown()
    sow_and_follow(book, taxa)
    return book


@pytest.fixture(scope="module")
def book():
    return entered(*SPECIES)


@pytest.fixture(scope="module")
def counts(book):
    """{(unit, taxon, week): {outcome: count}}."""
    found = {}
    for row in book.rows["counts"]:
        key = row["unit_id"], row["taxon_id"], int(row["visit_id"].split("-W")[1])
        assert row["outcome"] not in found.setdefault(key, {})
        found[key][row["outcome"]] = row.get("count")
    return found


def rows_of(book, table):
    return pd.DataFrame(book.rows[table])


def parameters(node):
    """Every key below a node that is a parameter and no name of a species, arm, trial, site, week or contrast."""
    names = {*SPECIES, "F1", "F2", "value", "tried", *field_setting("weather"), *field_truth()["height_at"]}
    for key, value in node.items():
        if key not in names and not key.startswith(("T0", "T1", "C-")):
            yield key
        if isinstance(value, dict):
            yield from parameters(value)


def test_every_parameter_has_a_note_and_no_note_is_left_over():
    told = dict(field_truth())
    notes = told.pop("notes")
    told.pop("about")
    assert set(parameters(told)) == set(notes)
    assert all(len(note) > 10 for note in notes.values())


def test_every_contrast_has_a_verdict_foreseen_and_both_sides_are_sown():
    declared = [row for t in field_truth()["trials"] for taxon in SPECIES for row in contrasts(t, taxon)]
    assert {row["contrast_id"] for row in declared} == set(field_truth()["expected"])
    for row in declared:
        sown = {treatment_id(spot) for spot in spots(row["trial_id"], SEED)}
        assert {row["a"], row["b"]} <= sown
        assert ("margin" in row) == (row["kind"] != "superiority")  # journey.md 12: superiority carries none
    assert {(r["trial_id"], r["a"], r["b"], r["outcome"]) for r in declared if r["primary"]} == {
        ("F1", "AV-T16", "AV-T05", "plant dry mass"), ("F1", "CC-T17", "CC-T05", "emerged"),
        ("F1", "AM-T07", "AM-T05", "standing"), ("F2", "AM-T07", "AM-T05", "standing"),
    }  # journey.md 12


def test_nothing_real_is_named():
    """Places and makers carry the mark, and the sites lie in open sea."""
    assert all("(invented)" in site["name"] and "open sea" in site["notes"] for site in field_setting("sites"))
    assert all(e["maker"] == "own workshop" or "(invented)" in e["maker"] for e in field_setting("equipment"))
    assert all("invented" in trial["notes"] for trial in field_setting("trials").values())


def test_it_is_as_large_as_planned(book):
    """Numbers of journey.md 12: 240 plots, 200 rows in 20 main plots, 26 880 and 16 000 seeds."""
    kinds = Counter((row["trial_id"], row["kind"]) for row in book.rows["units"])
    assert kinds == {("F1", "plot"): 240, ("F2", "main plot"): 20, ("F2", "row"): 200}
    sown = Counter()
    for (_, trial), units in book.drawn.items():
        sown[trial] += units
    assert sown == {"F1": 26_880, "F2": 16_000}


def test_what_is_drawn_is_what_lies_in_the_ground(book):
    in_ground = Counter()
    for row in book.rows["units"]:
        if row.get("sown_n"):
            in_ground[row["lot_id"], row["trial_id"]] += row["sown_n"]
    assert in_ground == book.drawn
    assert {lot for lot, _ in book.drawn} <= {one_batch(t, a) for t, arms in truth()["one_batch"].items() for a in arms}


@pytest.mark.parametrize("trial", ["F1", "F2"])
def test_every_block_holds_every_treatment_once(trial):
    """Randomised blocks; in the split plot each main plot holds each treatment, and each block one main plot a level."""
    held = Counter((s.block, s.level, treatment_id(s)) for s in spots(trial, SEED))
    plan = field_truth()["trials"][trial]
    treatments = sum(map(len, plan["arms"].values())) + plan["unsown"]
    assert set(held.values()) == {1}
    assert len(held) == plan["blocks"] * len(plan["main_plots"]) * treatments
    assert len({(s.grid_row, s.grid_column) for s in spots(trial, SEED)}) == len(held)
    orders = {tuple(treatment_id(s) for s in spots(trial, SEED) if s.grid_row == row) for row in range(1, 21)} - {()}
    assert len(orders) > plan["blocks"] / 2  # shuffled, and anew in each


def test_up_to_week_12_no_more_stand_than_came_up(counts):
    came, last = Counter(), Counter()
    for (unit, taxon, _), seen in sorted(counts.items(), key=lambda item: item[0][2]):
        if "emerged" in seen:
            assert seen["standing"] <= last[unit, taxon] + seen["emerged"]  # the rest died
            last[unit, taxon] = seen["standing"]
            came[unit, taxon] += seen["emerged"]
    assert 0 < max(came.values()) < 120


def test_at_thinning_and_after_it_the_books_close(counts):
    """Standing = before - removed - died, plot by plot, and never more than eight."""
    thinned = {key[:2]: seen for key, seen in counts.items() if "kept" in seen}
    assert len({unit for unit, _ in thinned}) == 240 - 2
    for (unit, taxon), seen in thinned.items():
        assert seen["kept"] == seen["standing"] - seen["removed"]
        assert seen["standing"] <= counts[unit, taxon, 12]["standing"]
        assert seen["kept"] <= 8
        left = seen["kept"]
        for week in (16, 22, 28, 34, 40) if taxon in unit or "unsown" in unit else ():
            later = counts[unit, taxon, week]
            assert later["standing"] == left - later["died"]
            left = later["standing"]
    assert sum(seen["removed"] for seen in thinned.values()) > 1000
    assert not any(seen["removed"] for (unit, _), seen in thinned.items() if "unsown" in unit)


def test_rows_only_ever_lose_plants_after_week_12(counts):
    rows = {key[:2] for key in counts if key[0].startswith("F2")}
    assert len(rows) == 200
    for unit, taxon in rows:
        seen = [counts[unit, taxon, week]["standing"] for week in (12, 18, 25, 32, 40)]
        known = [n for n in seen if n is not None]
        assert known == sorted(known, reverse=True)
        assert (None in seen) == unit.endswith("-09-open")


def test_every_kept_plant_is_tagged_apart_from_the_others_and_its_fate_is_counted(book, counts):
    plants = rows_of(book, "plants")
    for unit, here in plants.groupby("unit_id"):
        taxon = unit.split("-")[1]
        assert len(here) == counts[unit, taxon, 13]["kept"]
        places = list(zip(here["x_mm"], here["y_mm"], strict=True))
        assert all(hypot(a[0] - b[0], a[1] - b[1]) >= 80 for a, b in combinations(places, 2))
        fates = Counter(here["fate"])
        assert fates["dead"] == sum(counts[unit, taxon, week]["died"] for week in (16, 22, 28, 34, 40))
        assert fates["cut"] == min(5, counts[unit, taxon, 40]["standing"])
    left = [n["kept"] for (unit, taxon, week), n in counts.items() if week == 13 and taxon in unit]
    assert sum(left) == len(plants)
    assert left.count(8) > len(left) / 2


def test_only_cut_plants_are_weighed_and_only_the_living_measured(book):
    """The cut ones are the survivors with the lowest tags: chosen without regard to size."""
    plants, measured = rows_of(book, "plants").set_index("plant_id"), rows_of(book, "measurements")
    mass = measured[measured["trait"].eq("dry mass")]
    assert set(mass["plant_id"]) == set(plants.index[plants["fate"].eq("cut")])
    assert not mass["plant_id"].duplicated().any()
    last = measured[measured["measurement_id"].str.endswith("height-40")]
    assert set(last["plant_id"]) == set(plants.index[plants["fate"].isin(["cut", "alive"])])
    for _, here in plants[plants["fate"].isin(["cut", "alive"])].groupby("unit_id"):
        assert not here["fate"].eq("cut").astype(int).diff().gt(0).any()


def test_lost_plots_are_told_and_not_counted_on(book, counts):
    lost = [row for row in book.rows["units"] if row["status"] == "lost"]
    assert len(lost) == 2
    assert lost[0]["grid_row"] == lost[1]["grid_row"]
    assert abs(lost[0]["grid_column"] - lost[1]["grid_column"]) == 1  # rabbits dig in one place
    for row in lost:
        assert row["reason"]
        assert row["decided_at"] == "2024-09-16"  # 2024-08-26 and three weeks, by the calendar
        assert row["outcome_known"] is False
        assert {week for unit, _, week in counts if unit == row["unit_id"]} == {1, 2}


def test_a_blank_count_has_its_reason(book):
    blank = [row for row in book.rows["counts"] if row.get("count") is None]
    assert len(blank) == 10
    assert {row["missing"] for row in blank} == {"not reached"}


@pytest.mark.parametrize("taxa", [("AV",), ("CC",), ("AM",)])
def test_one_species_alone_is_as_it_is_among_others(book, taxa):
    """Its plots, and what was counted of it in them and in unsown plots."""
    alone, (taxon,) = entered(*taxa), taxa
    for table in ("plants", "measurements"):
        assert alone.rows[table] == [r for r in book.rows[table] if f"-{taxon}-" in r["plant_id"]]
    mine = {r["unit_id"] for r in book.rows["units"] if r["unit_id"].split("-")[1] not in set(SPECIES) - {taxon}}
    assert alone.rows["units"] == [r for r in book.rows["units"] if r["unit_id"] in mine]
    assert alone.rows["counts"] == [r for r in book.rows["counts"] if r["unit_id"] in mine and r["taxon_id"] == taxon]
    for table in ("sites", "visits", "conditions", "trials", "unit_levels", "equipment", "calibrations"):
        assert alone.rows[table] == book.rows[table]
    assert alone.drawn == Counter({key: n for key, n in book.drawn.items() if key[0].startswith(taxon)})


def test_twice_gives_the_same(book):
    for remembered in (spots, followed, kept, standing_later, in_field):
        remembered.cache_clear()
    again = entered(*SPECIES)
    assert again.rows == book.rows
    assert again.files == book.files


def stand(arm, week=12):
    """Standing seedlings a living seed at Hollow Sands, plots of many seeds together: (mean count, seeds)."""
    many = [(s, seed) for seed in range(100, 140) for s in spots("F1", seed) if (s.taxon, s.arm) == ("AM", arm)]
    wild_free = sum(standing(s, "AM", week, seed) for s, seed in many)
    alive = species("AM")["filled_clean" if arm != "T01" else "filled_in_hull"] * species("AM")["viable_of_filled"]
    return wild_free / (120 * alive * len(many))


@pytest.mark.parametrize(("arm", "of_viable"), [("T01", 0.06986), ("T05", 0.06986), ("T07", 0.17444)])
def test_a_delay_outlives_the_dry_spell_as_the_plan_says(arm, of_viable):
    """The shares of living seed that the demo's plan has for week 12 (journey.md 12), up to the batch's own deviation."""
    ready = truth()["species"]["AM"]["germinable"] * (1 - truth()["abnormal"])
    emerges = field_truth()["arms"].get(arm, {}).get("emerges", field_truth()["species"]["AM"]["emerges"])
    own_batch = in_field("AM", arm).comes_up / (ready * emerges)
    assert stand(arm) == pytest.approx(of_viable * own_batch, rel=0.05)


def by_hand(median, dry, to=12):
    """Share of those that ever come up that stands at week 12: log-logistic weeks times exp(-hazard), written out anew."""
    up = [0, *(1 / (1 + (median / (7 * week)) ** 3.5) for week in range(1, to + 1))]
    total = 0
    for week in range(1, to + 1):
        lived = 0.5 * (dry if 3 <= week <= 5 else 0.03) + sum(dry if 3 <= w <= 5 else 0.03 for w in range(week + 1, to + 1))
        total += (up[week] - up[week - 1]) * exp(-lived)
    return total


@pytest.mark.parametrize(("emerges", "median", "of_viable"), [(0.50, 12, 0.06986), (0.47, 36, 0.17444)])
def test_the_plan_itself_adds_up(emerges, median, of_viable):
    """journey.md 12, by hand: .62 germinable, .97 of it normal, and half a hazard in the week of emergence."""
    assert 0.62 * 0.97 * emerges * by_hand(median, 0.50) == pytest.approx(of_viable, rel=1e-3)


def test_wild_seedlings_are_as_many_as_the_plan_says():
    """0.6 a plot (journey.md 12), less the few that would come up too late: Poisson, so the mean is known to sqrt(m / n)."""
    plots = [(s, seed) for seed in range(100, 110) for s in spots("F1", seed) if s.taxon != "CC"]
    mean = sum(len(followed(s, "CC", seed)) for s, seed in plots) / len(plots)
    assert mean == pytest.approx(0.6, abs=4 * (0.6 / len(plots)) ** 0.5)
    assert not any(followed(s, "AV", SEED) for s in spots("F1", SEED) if s.taxon != "AV")
    assert not any(followed(s, "CC", SEED) for s in spots("F2", SEED) if s.taxon != "CC")


def test_the_dry_spell_shows_in_the_weather():
    """Weeks 3 to 5 are days 15 to 35."""
    days = weather("hollow-sands", 280, field_setting("sown_on")["F1"], SEED)
    assert len(days) == 281
    spell = days[15:36]
    assert sum(day["rain", "sum"] for day in spell) == 0
    assert sum(day["rain", "sum"] for day in days[36:43]) > 0  # as the note of week 6 says
    assert spell[-1]["soil moisture", "mean"] < 4
    assert min(day["soil moisture", "mean"] for day in days[100:200]) > 4
    there = weather("long-spit", 280, field_setting("sown_on")["F2"], SEED)
    assert sum(day["rain", "sum"] for day in there[15:36]) > 10
    for day in (*days, *there):
        assert day["temperature", "lowest"] < day["temperature", "mean"] < day["temperature", "highest"]
    january, june = (sum(d["temperature", "mean"] for d in days[a:b]) / (b - a) for a, b in ((128, 159), (260, 281)))
    assert june - january > 8


def test_everything_is_dated_after_the_plan_was_locked(book):
    assert all(row["declared_at"] == "2024-08-16" for row in book.rows["contrasts"])
    assert min(row["moved_at"] for row in book.rows["movements"]) == "2024-08-26"
    visits = rows_of(book, "visits")
    days = (pd.to_datetime(visits["visited_at"]) - pd.to_datetime(visits["trial_id"].map(field_setting("sown_on")))).dt.days
    assert days.tolist() == [7 * int(v.split("-W")[1]) for v in visits["visit_id"]]
    due = rows_of(book, "calibrations").groupby("equipment_id")["due_on"].min()
    logged = rows_of(book, "conditions").groupby("equipment_id")["logged_at"].max()
    assert set(due.index) == set(logged.index)
    assert (logged < due).all()


def test_a_map_shows_every_plot_once(book):
    for trial in ("F1", "F2"):
        drawn = book.files[f"files/{trial.lower()}-map.svg"].decode()
        codes = [row["code"] for row in book.rows["units"] if row["trial_id"] == trial and "code" in row]
        assert len(set(codes)) == len(codes)
        assert all(drawn.count(f">{code}<") == 1 for code in codes)


def test_the_journey_holds_the_field_as_it_is_entered_here(book, written):
    for table in ("sites", "plants", "measurements"):
        assert len(written[table]) == len(book.rows[table]), table
    for trial in ("F1", "F2"):
        mine = written["counts"]["visit_id"].str.startswith(f"{trial}-")
        assert mine.sum() == sum(row["visit_id"].startswith(f"{trial}-") for row in book.rows["counts"])


def test_the_seed_is_the_first_that_shows_the_truth():
    """The search, repeated: what field_truth.json says of the seed is what was done."""
    tried = list(search())
    assert tried[-1] == (field_truth()["seed"]["value"], {})
    assert len(tried) == field_truth()["seed"]["tried"]
    assert all(otherwise for _, otherwise in tried[:-1])
