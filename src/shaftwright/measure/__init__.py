"""Measuring: setups compared, brace swept, creep followed, sound and speed read honestly."""
