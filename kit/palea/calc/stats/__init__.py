"""Statistics that know nothing of seed: proportions, models of counts, time to event, comparisons, verdicts."""
