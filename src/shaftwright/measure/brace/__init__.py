"""Brace height swept, strings settling."""
