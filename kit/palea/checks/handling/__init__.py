"""What cannot be true of flow tests and runs of the seeder, and what they leave unsaid."""

from palea.checks.handling import compared, rows, runs

RULES = (
    *runs.RULES,
    *rows.RULES,
    *compared.RULES,
)
