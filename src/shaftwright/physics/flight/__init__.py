"""Flight, fletched and bare."""
