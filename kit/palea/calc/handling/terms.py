"""What the numbers of handling are called, and in which unit they come: said once for all modules of this room."""

BULK, TAPPED = "bulk density", "tapped density"
CARR, HAUSNER, ANGLE, FUNNEL, BLOCKED = "Carr index", "Hausner ratio", "angle of repose", "funnel flow", "blockages"
FALL = "terminal velocity"
ROW_CV, DISPERSION, PER_METRE, STOPS = "row variation", "dispersion index", "units per metre", "stops per 100 m"
FEED, MULTIPLES, MISSES, PRECISION = "quality of feed", "multiples", "misses", "spacing precision"
RATE, BARE_RATE, LIVE = "sowing rate of product", "sowing rate of bare seed", "live seeds per square metre"
METER = "change through the meter"
MIXING, DRIFT = "mixing index", "drift along the hopper"
THIRDS = ("share in the first third", "share in the middle third", "share in the last third")

SIGNED = (METER, DRIFT)  # may lie below 0
ONE_BATCH = "These runs come from one batch: the answer holds for that batch, not yet for the recipe."  # pours, too
SEEDER_RUN = "seeder run"  # the rung: metres within a run are no replicates
UNITS = {
    BULK: "g/mL", TAPPED: "g/mL", CARR: "%", HAUSNER: "1", ANGLE: "deg", FUNNEL: "g/s", BLOCKED: "%", FALL: "m/s",
    ROW_CV: "%", DISPERSION: "1", PER_METRE: "/m", STOPS: "/hm", FEED: "%", MULTIPLES: "%", MISSES: "%",
    PRECISION: "%", RATE: "kg/har", BARE_RATE: "kg/har", LIVE: "/m2", METER: "%", MIXING: "1", DRIFT: "%",
} | dict.fromkeys(THIRDS, "%")
