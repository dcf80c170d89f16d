"""What cannot be true of dishes, their visits and their counts, and what a sheet leaves open."""

from palea.checks.germination import counts, dishes, lots, visits

RULES = (*counts.RULES, *visits.RULES, *dishes.RULES, *lots.RULES)
