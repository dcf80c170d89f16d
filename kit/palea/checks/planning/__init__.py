"""What a plan lacks before anything is wetted: design, controls, questions, places."""

from palea.checks.planning import contrasts, controls, design, layout, sowing

RULES = (*design.RULES, *layout.RULES, *sowing.RULES, *controls.RULES, *contrasts.RULES)
