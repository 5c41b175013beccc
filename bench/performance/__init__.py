"""How fast, how much memory, how it grows: `python -m bench.performance` writes docs/performance.md."""
