"""Arithmetic and statistics. Pure: arrays and frames in, a frozen Result out; no table, file, clock or global chance."""
