"""The questions of an archer answered; one plan behind every answer."""
