"""A reading on its way into the notebook: checked, kept, and what it means for the rig file."""
