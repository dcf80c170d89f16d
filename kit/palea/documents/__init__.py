"""A page as a frozen value, and its writers. It knows nothing of seed."""
