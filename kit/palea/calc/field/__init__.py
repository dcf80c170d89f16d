"""Calculations of the field stage: emergence, survival, rows, growth, and the weather that they stood in."""
