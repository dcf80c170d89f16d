"""What the numbers of germination under stress and in storage are called, and in which unit they come."""

BASE_WATER, SPREAD_WATER = "base water potential", "spread of base water potential"
HYDROTIME, HYDROTHERMAL = "hydrotime", "hydrothermal time"
BASE_TEMPERATURE, OPTIMUM, CEILING = "base temperature", "optimum temperature", "ceiling temperature"
THERMAL, THERMAL_ABOVE, SPREAD_THERMAL = "thermal time", "thermal time above the optimum", "spread of thermal time"
NEVER = "never-germinating share"
WATER_CHANGE, WARMTH_CHANGE = "change of the effect with water", "change of the effect with temperature"
WARMTH = "effect of temperature"
ED10, ED50, ED90 = "dose for 10 % of the effect", "dose for half the effect", "dose for 90 % of the effect"
AT_ZERO, AT_HIGH, STEEP = "response without the active", "response at a high dose", "steepness of the dose response"
PEAK, PEAK_DOSE = "highest response", "dose of the highest response"
HALF_LIFE, INITIAL, AGEING = "half-life in storage", "viability before storage", "time to lose one probit"
UNITS = {
    BASE_WATER: "MPa", SPREAD_WATER: "MPa", HYDROTIME: "MPa.d", HYDROTHERMAL: "MPa.K.d", BASE_TEMPERATURE: "Cel",
    OPTIMUM: "Cel", CEILING: "Cel", THERMAL: "K.d", THERMAL_ABOVE: "K.d", SPREAD_THERMAL: "1", NEVER: "%",
    WATER_CHANGE: "%", WARMTH_CHANGE: "%", WARMTH: "%", AT_ZERO: "%", AT_HIGH: "%", STEEP: "1", PEAK: "%",
    HALF_LIFE: "mo", INITIAL: "%", AGEING: "mo",
}
