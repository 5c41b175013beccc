"""Arrows, outlooks and bows put together by hand, for a decision by itself."""

from shaftwright.records.notebook import BuildSpec


def spec_of(**parts):
    """An arrow as it is noted."""
    return BuildSpec.model_construct(**parts)
