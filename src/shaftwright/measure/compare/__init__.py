"""Setups compared by their speeds."""
