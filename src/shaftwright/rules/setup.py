"""rules/setup.yaml: where a bow that is not yet set up starts."""

from dataclasses import dataclass

from shaftwright.parameters import Section, Sourced, parameters, section
from shaftwright.records.rig import Rig
from shaftwright.resources import usual


class Words(Sourced):
    """A start point that is no number, in a sentence."""

    text: str
    why: str


class Setup(Section):
    """The file."""

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


def start_points(rig: Rig) -> StartPoints:
    """Start points of a rig; fingers not stated take both ranges."""
    found, words = parameters("setup"), section("setup", Setup).words
    names = {"three_under": ["nocking_three_under_in"],
             "unknown": ["nocking_split_in", "nocking_three_under_in"]}  # fmt: skip
    nocking = [found[n] for n in names.get(rig.archer.release, ["nocking_split_in"])]
    low, high = (usual("brace_height_in", rig.bow.kind, end) for end in ("low", "high"))
    return StartPoints(
        low, high, min(s.low for s in nocking), max(s.high for s in nocking),
        words["nock_fit"].text, words["side"].text,
    )  # fmt: skip
