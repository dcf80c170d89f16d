"""What cannot be true of lots: the seed that moves between them, where it came from, its tests, and how it is kept."""

from palea.checks.lots import counted, instruments, ledger, lineage, moves, origin, storing, testing

PARTS = (ledger, moves, lineage, origin, testing, counted, instruments, storing)
RULES = tuple(rule for part in PARTS for rule in part.RULES)
