"""Words that calculations branch on. A test holds each list equal to the vocabulary of the same name in schema/."""

from enum import StrEnum


class Verdict(StrEnum):
    """The closed list of things that an effect can be said to be."""

    BETTER = "better"
    WORSE = "worse"
    LESS_THAN_MATTERS = "differs by less than matters"
    EQUIVALENT = "equivalent within m"
    NO_WORSE = "no worse by more than m"
    NOT_SHOWN = "not shown"
    NOT_JUDGED = "not judged"


class Denominator(StrEnum):
    """What a share is a share of."""

    SOWN = "sown units"
    FILLED = "filled"
    VIABLE = "viable"
    EMERGED = "emerged"


class Kind(StrEnum):
    """What a contrast asks."""

    SUPERIORITY = "superiority"
    NO_WORSE = "no worse"
    EQUIVALENCE = "equivalence"


class Rung(StrEnum):
    """The ladder of replication, from the top."""

    LOT = "lot"
    BATCH = "batch"
    INCUBATOR_RUN = "incubator run"
    SITE = "site"
    BLOCK = "block"
    MAIN_PLOT = "main plot"
    PLOT = "plot"
    DISH = "dish"
    SEEDER_RUN = "seeder run"
