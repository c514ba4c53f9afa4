"""A state machine that drives the real services at random and distrusts them after each step."""
