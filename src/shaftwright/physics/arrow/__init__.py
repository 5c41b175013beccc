"""The arrow: spine, masses, balance, bending."""
