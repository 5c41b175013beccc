"""rules/setup.yaml: where a bow that is not yet set up starts."""

import functools
from dataclasses import dataclass

from shaftwright.records.fields import Format, Record
from shaftwright.records.rig import Rig
from shaftwright.resources import rules_dir, usual
from shaftwright.rules.purposes import Setting, load_rule_file
from shaftwright.rules.schema import Basis


class Words(Record):
    """A start point that is no number, in a sentence."""

    text: str
    why: str
    basis: Basis
    source: tuple[str, ...]


class Setup(Record):
    """The file."""

    format: Format
    settings: dict[str, Setting]
    words: dict[str, Words]


@dataclass(frozen=True)
class StartPoints:
    """Where to start; ranges by kind of bow and by how the string is held."""

    brace_low_in: float
    brace_high_in: float
    nocking_low_in: float
    nocking_high_in: float
    nock_fit: str
    side: str
    #: whose range of brace heights comes first
    brace: str


@functools.cache
def setup() -> Setup:
    """The shipped file, loaded once."""
    return load_rule_file(rules_dir() / "setup.yaml", Setup)


def start_points(rig: Rig) -> StartPoints:
    """Start points of a rig; fingers not stated take both ranges."""
    found = setup()
    names = {"three_under": ["nocking_three_under_in"],
             "unknown": ["nocking_split_in", "nocking_three_under_in"]}  # fmt: skip
    nocking = [found.settings[n] for n in names.get(rig.archer.release, ["nocking_split_in"])]
    low, high = (usual("brace_height_in", rig.bow.kind, end) for end in ("low", "high"))
    return StartPoints(
        low, high, min(s.low for s in nocking), max(s.high for s in nocking),
        found.words["nock_fit"].text, found.words["side"].text, found.words["brace"].text,
    )  # fmt: skip
