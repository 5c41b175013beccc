"""What tables of tuned rigs say of the rules."""
