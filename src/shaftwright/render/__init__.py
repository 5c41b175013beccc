"""Text, pictures and pages; nothing is computed here."""
