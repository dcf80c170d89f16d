"""What cannot be true of treatments and the runs that carried them out, and what they leave unsaid."""

from palea.checks.coating import amounts, batches, checked, intended, materials, preparations

RULES = (
    *intended.RULES,
    *amounts.RULES,
    *materials.RULES,
    *preparations.RULES,
    *batches.RULES,
    *checked.RULES,
)
