"""Pictures of a stage laid out from views: what they say, and the sentence where there is nothing to draw."""

import pytest

from palea.errors import PaleaError
from palea.record import field_pictures, lineage, single_steps, stage_pictures


def test_the_bars_of_ends_say_what_was_counted(package):
    said = stage_pictures.ends_in_hundred(package, "G1", "CC").description
    assert "In the floret, untouched (CC-T01, 20/10 °C, 16 dishes)" in said
    with pytest.raises(PaleaError, match="No dish of CC in F1"):
        stage_pictures.ends_in_hundred(package, "F1", "CC")


def test_lots_stock_coats_rows_and_plots_are_told_from_the_package(package):
    assert "CC-0 (Corynephorus canescens, 400 units cut" in stage_pictures.lots_in_hundred(package).description
    assert "CC-0: " in stage_pictures.stock_over_time(package, "CC").description
    assert "Pellet (CC-T08): 4 batches, 14 cycles" in stage_pictures.coat_growth(package, "CC").description
    assert "seeds per metre on average" in field_pictures.row_strip(package, "CC").description
    assert "in 16 blocks" in field_pictures.plot_map(package, "F1").description


def test_kept_verdicts_stand_in_the_table_of_evidence(package):
    said = stage_pictures.evidence_table(package).description
    assert "CC-T03 against CC-T02, germination, worse" in said


@pytest.mark.parametrize("draw", [stage_pictures.stock_over_time, stage_pictures.coat_growth, field_pictures.row_strip])
def test_a_species_that_is_not_there_is_told(package, draw):
    with pytest.raises(PaleaError, match="XX"):
        draw(package, "XX")


def test_the_map_tells_the_arm_that_is_missing_in_the_demo(package):
    """The check of the design: CC lacks the wetting agent on the floret; T01 and T03 have no step between them."""
    said = single_steps.chart(package, "CC").description
    assert "There is no arm with wetting agent, in the floret, untouched" in said
    assert "CC-T01 to CC-T03" not in said
    assert "CC-T01 to CC-T02: hull" in said
    assert single_steps.taxa(package) == lineage.taxa(package) == ["CC"]
