"""The launch as text and pictures."""
