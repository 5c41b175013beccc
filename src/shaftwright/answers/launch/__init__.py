"""The launch of one arrow, with its doubt."""
