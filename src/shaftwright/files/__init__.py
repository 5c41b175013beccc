"""Strict YAML and CSV in, atomic writes out, every fault with its file and line."""
