"""Shaftwright: arrow-spine selection for archers who shoot with their fingers."""

__version__ = "0.1.0"
