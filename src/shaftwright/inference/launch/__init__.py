"""A rig told as the launch model sees it, and the rules against it."""
