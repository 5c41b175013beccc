"""Moved to `shaftwright.mechanics.normal`."""

from shaftwright.mechanics.normal import *  # noqa: F403
