"""The afternoon on one sheet."""
