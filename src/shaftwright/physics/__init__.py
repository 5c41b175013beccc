"""Pure numeric functions on arrays, SI inside: spine, arrow, bow, flight, launch."""
