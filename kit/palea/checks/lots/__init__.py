"""What cannot be true of lots: the seed that moves between them, where it came from, its tests, and how it is kept."""

from palea.checks.lots import counted, instruments, ledger, lineage, moves, origin, reserve, storing, testing

RULES = (
    *ledger.RULES,
    *moves.RULES,
    *reserve.RULES,
    *lineage.RULES,
    *origin.RULES,
    *testing.RULES,
    *counted.RULES,
    *instruments.RULES,
    *storing.RULES,
)
