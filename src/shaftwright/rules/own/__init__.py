"""Rules of the archer's own, beside the rig."""
