"""What the bare shafts say, and why."""
