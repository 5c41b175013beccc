"""Simulated archers: the world they live in, and one who does what the plan says."""
