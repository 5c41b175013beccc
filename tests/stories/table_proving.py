"""Stories of an arrow that flies straight: proof, broadheads, the dozen, and what ends it."""

from story import End, Heads, Story, change, dozen, have
from story_rigs import HUNTER, LONGBOW, OLD_LIMBS, PLUNGER, THREE_D, rig_of

M400, M500, M600, S500 = "MARSH-400", "MARSH-500", "MARSH-600", "SEDGE-500"
OWN = {M500: (2, 29.5), "B175": 3}


def straight(shaft=M500, length=29.5, times=1, **more):
    """Straight ends, never quite alike."""
    return tuple(
        End(shaft, length, weak=w, **more) for w in (0.4, -0.3, 0.2, 0.6, -0.1, 0.3)[:times]
    )


SECOND = straight(piece=2)
PROVEN = (*straight(times=5), *SECOND, Heads(M500, 29.5))
ITS_OWN = {"shaft": M500, "length_in": 29.5, "point": "P175", "insert": "I25"}

STORIES = [
    Story(
        "five straight ends, a second alike, broadheads together: the dozen",
        ITS_OWN | {"stage": "dozen", "kind": {"make_dozen", "buy"},
                   "shot": {(M500, 29.5): {"standing": "proven"}},
                   "buy": lambda lines: any(b["item"].startswith(M500) for b in lines)},
        PROVEN, owned=OWN,
    ),
    Story(
        "three straight ends are enough for that",
        ITS_OWN | {"stage": "dozen", "shot": {(M500, 29.5): {"standing": "proven"}}},
        (*straight(times=3), *SECOND, Heads(M500, 29.5)), owned=OWN,
    ),
    Story(
        "one of the dozen made: the rest still to make",
        {"stage": "dozen"}, (*PROVEN, dozen(M500, 29.5, 1)), owned=OWN,
    ),
    Story(
        "the dozen noted as made: done",
        {"stage": "done", "kind": {"none", "finish"}, "says": ["Tuned"], "never": ["broadhead", "cut too"]},
        (*PROVEN, dozen(M500, 29.5)), owned=OWN,
    ),
    Story(
        "the dozen of shafts never said to be cut: nobody asks any more",
        {"stage": "done", "never": ["cut too"]},
        (*straight(times=5), dozen(M500, 29.5)), rig=THREE_D, owned={M500: 12},
    ),
    Story(
        "... to hunt with, though no broadhead was shot: done, and said so",
        {"stage": "done", "says": ["No broadhead has flown"]},
        (*straight(times=5), *straight(piece=2), dozen(M500, 29.5)), owned=OWN,
    ),
    Story(
        "after the dozen, one fair end outside: anew",
        {"stage": lambda stage: stage not in ("done", "dozen")},
        (*straight(times=5, date="2026-05-01"), *straight(piece=2, date="2026-05-01"),
         Heads(M500, 29.5), dozen(M500, 29.5, date="2026-05-02"),
         End(M500, 29.5, weak=8, date="2026-05-09")), owned=OWN,
    ),
    Story(
        "after the dozen, one fair end inside: still in tune",
        {"stage": "done"},
        (*straight(times=5, date="2026-05-01"), *straight(piece=2, date="2026-05-01"),
         Heads(M500, 29.5), dozen(M500, 29.5, date="2026-05-02"),
         End(M500, 29.5, weak=0.5, date="2026-05-09")), owned=OWN,
    ),
    Story(
        "after the dozen, other limbs: anew, with the old arrow",
        {"stage": "tune", "kind": "shoot", "shaft": M400, "length_in": 29.5, "distance_yd": 10.0},
        (*(End(M400, 29.5, weak=w, state={"limbs_id": "osier-1", "draw_weight": 55})
           for w in (0.4, -0.3, 0.2)), dozen(M400, 29.5),
         change("limbs", limbs_id="osier-2", draw_weight=47)),
        owned={M400: (12, 29.5)}, before=OLD_LIMBS,
    ),
    Story(
        "hunting, three straight ends of one: a second alike",
        ITS_OWN | {"stage": "prove", "kind": "make_second"},
        straight(times=3), owned=OWN,
    ),
    Story(
        "hunting, a second alike is straight: broadheads",
        ITS_OWN | {"stage": "prove", "kind": "broadheads"},
        (*straight(times=3), *SECOND), owned=OWN,
    ),
    Story(
        "hunting, no broadhead in hand: bought first, of the point's mass",
        {"stage": "prove", "kind": {"buy", "broadheads"}, "shaft": M500, "length_in": 29.5,
         "buy": lambda lines: [b["item"] for b in lines] == ["B175"]},
        (*straight(times=3), *SECOND), owned={M500: (2, 29.5)},
    ),
    Story(
        "3-D on carbon needs neither a second alike nor broadheads",
        ITS_OWN | {"stage": "dozen", "point": "P150",
                   "shot": {(M500, 29.5): {"standing": "proven"}}},
        straight(times=3, point="P150"), owned=OWN | {"P150": 6}, rig=THREE_D,
    ),
    Story(
        "wood needs a second alike whatever it is for",
        {"stage": "prove", "kind": "make_second", "shaft": "SPRUCE-35", "length_in": 28.0},
        straight("SPRUCE-35", 28, times=3), rig=LONGBOW, owned={"SPRUCE-35": 1}, only=r"SPRUCE-\d+",
    ),
    Story(
        "wood, a second alike is straight: the dozen",
        {"stage": "dozen", "shaft": "SPRUCE-35", "length_in": 28.0, "point": "PW125"},
        (*straight("SPRUCE-35", 28, times=3), End("SPRUCE-35", 28, weak=0.2, piece=2)),
        rig=LONGBOW, owned={"SPRUCE-35": (2, 28)}, only=r"SPRUCE-\d+",
    ),
    Story(
        "the second alike is off: not proven",
        {"stage": "prove", "shaft": M500, "length_in": 29.5,
         "kind": lambda kind: kind not in ("make_dozen", "broadheads"),
         "never": ["straight in 4 ends"]},
        (*straight(times=3), End(M500, 29.5, weak=7, piece=2)), owned=OWN,
    ),
    Story(
        "broadheads to the side: spin-test first",
        {"stage": "prove", "kind": "broadheads", "shaft": M500, "length_in": 29.5, "says": ["spin"]},
        (*straight(times=3), *SECOND, Heads(M500, 29.5, weak=-5)), owned=OWN,
    ),
    Story(
        "... again to the side: plate before mass",
        {"stage": "prove", "kind": {"plate", "broadheads"}, "shaft": M500, "length_in": 29.5},
        (*straight(times=3), *SECOND, Heads(M500, 29.5, weak=-5), Heads(M500, 29.5, weak=-5.2)),
        owned=OWN,
    ),
    Story(
        "... again low: nocking point",
        {"stage": "prove", "kind": {"nocking_point", "broadheads"}, "shaft": M500, "length_in": 29.5,
         "says": ["nocking point"]},
        (*straight(times=3), *SECOND, Heads(M500, 29.5, up=-5), Heads(M500, 29.5, up=-5.2)),
        owned=OWN,
    ),
    Story(
        "two fly straight: the more proven leads",
        {"stage": "prove", "shaft": S500, "length_in": 29.75},
        (*straight(times=2), *straight(S500, 29.75, times=4)), owned={M500: 1, S500: 1},
        only=r"(MARSH|SEDGE)-\d+(-12)?",
    ),
    Story(
        "... the other way round",
        {"stage": "prove", "shaft": M500, "length_in": 29.5},
        (*straight(times=4), *straight(S500, 29.75, times=2)), owned={M500: 1, S500: 1},
        only=r"(MARSH|SEDGE)-\d+(-12)?",
    ),
    Story(
        "the straight one was lost: another like it, not another arrow",
        {"stage": "prove", "shaft": M500, "length_in": 29.5, "kind": {"buy", "make_second", "shoot"},
         "buy": lambda lines: any(b["item"].startswith(M500) for b in lines)},
        (*straight(times=2), have(M500, 0)), owned={M500: 1},
    ),
    Story(
        "straight but light for its purpose: it leads all the same",
        {"stage": "prove", "shaft": M500, "length_in": 29.5, "point": "P100"},
        straight(times=2, point="P100"), owned={M500: 1, "P100": 6},
    ),
    Story(
        "straight but under the maker's floor: refused, and why",
        {"stage": "tune", "shaft": M500, "point": "P175", "says": ["light|floor|minimum"]},
        straight(times=2, point="P100"), owned={M500: 1, "P100": 6},
        rig=rig_of(HUNTER, bow__maker_minimum_gr_per_lb=8.5),
    ),
    Story(
        "straight but too short for a broadhead: the reason is told",
        {"says": ["short"], "stage": "tune", "shaft": M500, "length_in": lambda n: n and n >= 29.5},
        straight(length=28.75, times=3), owned={M500: 1},
    ),
    Story(
        "marks among straight ends are no proof",
        {"kind": lambda kind: kind not in ("make_dozen", "make_second", "broadheads", "cut")},
        straight(times=3, marks="plate"), owned=OWN,
    ),
    Story(
        "a plunger's arrow proven for practice",
        {"stage": "dozen", "shaft": M600, "length_in": 30.5, "point": "P125"},
        straight(M600, 30.5, times=4, point="P125"), owned={M600: 1, "P125": 6}, rig=PLUNGER,
    ),
]  # fmt: skip
