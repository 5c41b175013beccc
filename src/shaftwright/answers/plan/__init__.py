"""Where the archer stands, and the one next thing; every answer carries it."""
