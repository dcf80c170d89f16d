"""What a lot is: purity, seed weight, water, life, what a live seed costs and what is left of it."""
