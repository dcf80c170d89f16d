"""The rows of F2 after week 12: never thinned, so that plants die the faster the more of them stand."""

from functools import cache
from math import exp, inf

from palea.demo.chance import Chance
from palea.demo.field.seedlings import followed, last_week, times_in_the_open
from palea.demo.field.truth import field_truth, in_field


@cache
def standing_later(spot, seed):
    """{week: how many stand} at the last count of new ones and at each later visit."""
    truth, week = field_truth(), last_week(spot.trial)
    alone = in_field(spot.taxon, spot.arm).later_hazard * truth["times_in_rows"] * times_in_the_open(spot)
    chance = Chance(seed, spot.unit_id, "later")
    number = sum(s.died == inf for s in followed(spot, spot.taxon, seed))
    found = {week: number}
    for then in truth["trials"][spot.trial]["later_weeks"]:
        lives = exp(-alone * (number / truth["crowd_of"]) ** truth["crowding_power"] * (then - week))
        number = sum(chance.happens(lives) for _ in range(number))
        week = then
        found[week] = number
    return found
