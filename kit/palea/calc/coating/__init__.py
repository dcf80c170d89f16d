"""Coats: how much was put on, how evenly, what it carries, what was lost, and how to make more of it."""
