"""Recipes, and the one door to an answer."""
