"""Findings that no single table can state. Each rule is data plus one function, in the file of its stage."""
