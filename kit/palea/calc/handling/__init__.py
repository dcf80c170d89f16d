"""Handling: how seed flows, what a seeder does with it, and whether a mixture stays mixed."""
