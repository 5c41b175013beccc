"""Test kits of one line of shafts, and the dozen like the arrow that was proven."""
