"""The arrow bending round the riser."""
