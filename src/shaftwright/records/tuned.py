"""One arrow that somebody shot from a rig that is described, and how it flew."""

from typing import Literal

from shaftwright.records.fields import Name, Record
from shaftwright.records.notebook import BuildSpec, Reads
from shaftwright.records.rig import Rig

#: with what the outcome was seen, surest first
Seen = Literal["bare_shaft", "broadheads", "fletched"]


class TunedArrow(Record):
    """A row of a table of tuned rigs."""

    rig: Rig
    build: BuildSpec
    reads: Reads
    seen_with: Seen
    source: Name
