"""What cannot be true at the stage cleaning, and what it leaves unsaid. Rules on runs and steps hold for every kind of run."""

from palea.checks.cleaning import protocols, recovered, runs, steps

RULES = (
    *recovered.RULES,
    *runs.RULES,
    *steps.RULES,
    *protocols.RULES,
)
