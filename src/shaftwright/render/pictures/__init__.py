"""Pictures, with one look and one way out."""
