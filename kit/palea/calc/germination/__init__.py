"""Germination: final shares, time, classical indices, tolerance between replicates."""
