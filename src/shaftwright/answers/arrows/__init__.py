"""Arrows: what was shot, what is in hand, what can be made of it."""
