"""What is worked out before anything is wetted: how many, how much seed, and where each unit lies."""
