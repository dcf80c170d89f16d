"""What cannot be true of plots, rows, plants and the weather over them, and what they leave unsaid."""

from palea.checks.field import plants, standing, weather

RULES = (*standing.RULES, *plants.RULES, *weather.RULES)
