"""The afternoon on one sheet: as text, and as one page for paper and phone."""
