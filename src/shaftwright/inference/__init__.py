"""Effective bow weight to spine band; evidence to a narrower band."""
