"""The invented demo: a journey whose truth is known, generated from truth.json and setting.json."""
