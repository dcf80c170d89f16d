"""What a decision rests on: where seed is lost, what a plant costs, what is held back, and what many trials say."""
