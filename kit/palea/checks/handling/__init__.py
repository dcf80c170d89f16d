"""What cannot be true of flow tests and runs of the seeder, and what they leave unsaid."""

from palea.checks.handling import compared, rows, runs

PARTS = (runs, rows, compared)
RULES = tuple(rule for part in PARTS for rule in part.RULES)
