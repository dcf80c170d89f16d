"""What the tables imply and never store: ledger, lineage, factor levels, counts and doses, all as views."""
