"""What a terminal shows, an answer a module."""
