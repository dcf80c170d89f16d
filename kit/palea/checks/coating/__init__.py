"""What cannot be true of treatments and the runs that carried them out, and what they leave unsaid."""

from palea.checks.coating import amounts, batches, checked, intended, materials, preparations

PARTS = (intended, amounts, materials, preparations, batches, checked)
RULES = tuple(rule for part in PARTS for rule in part.RULES)
