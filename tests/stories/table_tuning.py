"""Stories of shafts that read straight, stiff or weak: what is shot or changed next."""

from story import End, Story, change, lighter, not_heavier
from story_rigs import HUNTER, LONGBOW, OLD_LIMBS, PLUNGER, THREE_D, rig_of

M400, M500, M600, M700 = "MARSH-400", "MARSH-500", "MARSH-600", "MARSH-700"
NOT_STRAIGHT = {"outside", "not clear yet", "contact"}
STIFF, WEAK = {"slightly stiff", "stiff"}, {"slightly weak", "weak"}
#: he shoots 125 gr, not 175
AT_PLUNGER = {M600: 1, "P125": 6, "P175": 0}
HAD_55 = {"limbs_id": "osier-1", "draw_weight": 55}


def twice(*ends):
    """Each end shot again."""
    return (*ends, *ends)


def halves(length):
    """Cut by a half inch, or several of them at once."""
    return {length - 0.5 * k for k in range(1, 5)}


STORIES = [
    Story(
        "two carbon shafts a step apart: the straight one leads",
        {"stage": "prove", "kind": "shoot", "shaft": M500, "length_in": 29.5, "point": "P175",
         "insert": "I25", "distance_yd": 20.0, "says": [M400],
         "shot": {(M500, 29.5): {"standing": "straight so far", "reads": "straight", "groups": 1},
                  (M400, 29.5): {"standing": "outside", "reads": STIFF}}},
        (End(M500, 29.5, weak=0.5, yd=15), End(M400, 29.5, weak=-6, yd=15)),
        owned={M500: 1, M400: 1},
    ),
    Story(
        "the same in wood",
        {"stage": "prove", "kind": "shoot", "shaft": "SPRUCE-35", "length_in": 28.0, "point": "PW125",
         "shot": {("SPRUCE-45", 28): {"reads": STIFF}}},
        (End("SPRUCE-35", 28, weak=0.3), End("SPRUCE-45", 28, weak=-8.5)),
        rig=LONGBOW, owned={"SPRUCE-35": 1, "SPRUCE-45": 1}, only=r"SPRUCE-\d+",
    ),
    Story(
        "weak at full length and nothing else in hand: cut one, in steps",
        {"stage": "tune", "kind": "cut", "shaft": M500, "length_in": halves(32), "point": "P175",
         "shot": {(M500, 32): {"standing": "outside", "reads": "weak", "groups": 2}}},
        twice(End(M500, 32, weak=9)), owned={M500: 2},
    ),
    Story(
        "... with a lighter point in hand that keeps the weight: that first",
        {"stage": "tune", "kind": "point", "shaft": M500, "length_in": 32.0, "point": "P150"},
        twice(End(M500, 32, weak=9)), owned={M500: 2, "P150": 6},
    ),
    Story(
        "... a lighter point that falls under the mass range is not tried: cut",
        {"stage": "tune", "kind": "cut", "shaft": M500, "length_in": halves(32), "point": "P175"},
        twice(End(M500, 32, weak=9)), owned={M500: 2, "P100": 6},
    ),
    Story(
        "... with a fair 400 in hand, never shot: shoot it before anything is cut",
        {"stage": "tune", "kind": {"shoot", "shaft"}, "shaft": M400, "length_in": 32.0,
         "point": "P175", "distance_yd": {10, 20}},
        twice(End(M500, 32, weak=9)), owned={M500: 2, M400: 1},
    ),
    Story(
        "... two cuts later, still weak, no other shaft in hand: cut on",
        {"stage": "tune", "kind": "cut", "shaft": M500, "length_in": halves(31), "point": "P175"},
        (*twice(End(M500, 32, weak=10)), *twice(End(M500, 31.5, weak=8.6)),
         *twice(End(M500, 31, weak=7.8))),
        owned={M500: 1},
    ),
    Story(
        "... nearer: a quarter inch at a time to 3 in",
        {"stage": "tune", "kind": "cut", "shaft": M500, "length_in": {30.25, 30.0, 29.75}},
        twice(End(M500, 30.5, weak=4.6)), owned={M500: 1},
        in_words={"length_in": {30.5, 30.25, 30.0, 29.75}, "kind": {"cut", "plate"}},
    ),
    Story(
        "... one of two cut: its twin stays long",
        {"stage": "tune", "kind": "cut", "shaft": M500, "length_in": halves(31.5), "piece": {1, None}},
        (*twice(End(M500, 32, weak=10)), *twice(End(M500, 31.5, weak=8.5, piece=1))),
        owned={M500: 2},
    ),
    Story(
        "weak without any shop, by numbers: nothing is cut",
        {"stage": "tune", "kind": lambda kind: kind not in ("cut", "buy")},
        twice({"kind": "bareshaft", "reads": "weak", "distance": "10 yd", "marks": "none",
               "build": {"spine": 600, "gr_per_in": 6.9, "length": 30, "front": 150, "tail": 17}}),
        only="", rig=PLUNGER, forms=("words",),
    ),
    Story(
        "wood, weak: the owned neighbour group first",
        {"stage": "tune", "kind": {"shoot", "shaft"}, "shaft": "SPRUCE-40"},
        twice(End("SPRUCE-35", 29, weak=8)), rig=LONGBOW, only=r"SPRUCE-\d+",
        owned={"SPRUCE-35": (2, 29), "SPRUCE-40": (2, 29), "PW100": 6},
    ),
    Story(
        "... else a lighter head, before a new taper",
        {"stage": "tune", "kind": "point", "shaft": "SPRUCE-35", "length_in": 29.0, "point": "PW100"},
        twice(End("SPRUCE-35", 29, weak=8)), rig=LONGBOW, only=r"SPRUCE-\d+",
        owned={"SPRUCE-35": (2, 29), "PW100": 6},
    ),
    Story(
        "stiff, and a longer one of the row in hand: that",
        {"stage": "tune", "kind": {"shoot", "shaft"}, "shaft": M400,
         "length_in": lambda length: length > 29.5},
        twice(End(M400, 29.5, weak=-9)), owned={M400: (2, 32)},
    ),
    Story(
        "stiff, and a fair weaker shaft in hand, never shot: that",
        {"stage": "tune", "kind": {"shoot", "shaft"}, "shaft": M500},
        twice(End(M400, 29.5, weak=-12)), owned={M400: 1, M500: (1, 29.5)},
    ),
    Story(
        "stiff, nothing else in hand: a weaker shaft",
        {"stage": "tune", "kind": {"buy", "shaft"}, "shaft": M500},
        twice(End(M400, 29.5, weak=-9)), owned={M400: 1},
    ),
    Story(
        "off once at the shortest length: no shaft is bought on one end",
        {"stage": "tune", "kind": {"shoot", "look_for_marks"}, "shaft": M500, "buy": []},
        (End(M500, 29.5, weak=6),), owned={M500: 1},
        in_words={"kind": {"shoot", "look_for_marks", "plate"}},
    ),
    Story(
        "one bare shaft is no end: shoot it again",
        {"stage": {"tune", "prove"}, "kind": "shoot", "shaft": M500, "length_in": 29.5,
         "shot": {(M500, 29.5): {"standing": {"not clear yet"}}}},
        (End(M500, 29.5, weak=0.3, bare=1),), owned={M500: 1}, forms=("hits",),
    ),
    Story(
        "two bare shafts are one",
        {"stage": "prove", "kind": "shoot", "shaft": M500, "length_in": 29.5,
         "shot": {(M500, 29.5): {"standing": {"straight so far"}}}},
        (End(M500, 29.5, weak=0.3, bare=2),), owned={M500: 1}, forms=("hits",),
    ),
    Story(
        "straight at 30 in twice: prove at 30 in",
        {"stage": "prove", "kind": {"shoot", "make_second"}, "shaft": M500, "length_in": 30.0,
         "point": "P175", "never": ["29 3/4"],
         "shot": {(M500, 30): {"standing": {"flies straight", "straight so far"}, "groups": 2}}},
        (End(M500, 30, weak=0.4), End(M500, 30, weak=-0.2)), owned={M500: 1},
    ),
    Story(
        "a cut piece that flies straight does not grow",
        {"stage": "prove", "kind": "shoot", "shaft": M500, "length_in": 31.0, "never": ["31 1/4"]},
        (*twice(End(M500, 31.5, weak=5)), End(M500, 31, weak=0.6)), owned={M500: 1},
    ),
    Story(
        "marks on the plate, weak: lighter point or cut, and not asked for marks again",
        {"stage": "tune", "kind": {"point", "cut"}, "shaft": M500, "point": not_heavier(175),
         "never": ["look for marks", "powder"],
         "shot": {(M500, 32): {"standing": "contact"}}},
        twice(End(M500, 32, weak=8.5, marks="plate")), owned={M500: 2, "P150": 6},
    ),
    Story(
        "... also without a lighter point",
        {"stage": "tune", "kind": {"cut"}, "shaft": M500, "point": "P175",
         "never": ["look for marks"]},
        twice(End(M500, 32, weak=8.5, marks="plate")), owned={M500: 2},
    ),
    Story(
        "straight with marks on the plate: ease its edge, never cut",
        {"stage": {"tune", "prove"}, "kind": "plate", "shaft": M500, "length_in": 29.5,
         "shot": {(M500, 29.5): {"standing": "contact"}}},
        twice(End(M500, 29.5, weak=0.4, marks="plate")), owned={M500: 1},
    ),
    Story(
        "marks on the shelf: nock fit and nocking point",
        {"kind": {"nocking_point", "set_up"}, "shaft": {M500, None}, "says": ["nock"]},
        twice(End(M500, 29.5, weak=0.4, marks="shelf")), owned={M500: 1},
    ),
    Story(
        "a weaker shaft lands more to the stiff side: look for marks before anything else",
        {"stage": "tune", "kind": "look_for_marks", "shaft": {M500, M600, None}},
        (End(M500, 32, weak=-4, marks="not_looked"), End(M600, 32, weak=-9, marks="not_looked")),
        owned={M500: 1, M600: 1, "P200": 6},
    ),
    Story(
        "stiff and marks not looked for: no front added yet",
        {"stage": "tune", "kind": {"look_for_marks", "plate", "shoot"}, "point": not_heavier(175)},
        twice(End(M500, 29.5, weak=-6, marks="not_looked")), owned={M500: 1, "P200": 6},
    ),
    Story(
        "left-handed, bare 5 in left, tails not noted: weak, no cut yet (plunger)",
        {"stage": "tune", "kind": {"point", "plunger"}, "shaft": M600, "length_in": 30.0,
         "point": not_heavier(125), "shot": {(M600, 30): {"reads": WEAK}}},
        (End(M600, 30, weak=5, point="P125", tails=False),),
        rig=rig_of(PLUNGER, archer__hand="left"), owned=AT_PLUNGER | {"P100": 6},
    ),
    Story(
        "left-handed, bare 5 in left, tails not noted: weak, no cut yet (shelf)",
        {"stage": "tune", "kind": "point", "shaft": M500, "length_in": 32.0, "point": lighter(175),
         "shot": {(M500, 32): {"reads": WEAK}}},
        (End(M500, 32, weak=5, tails=False),),
        rig=rig_of(archer__hand="left"), owned={M500: 1, "P150": 6},
        # slightly weak in a word may be within 4 in
        in_words={"kind": {"point", "plate"}, "point": {"P175", "P150"}},
    ),
    Story(
        "medium spring, best shaft 4 in to the weak side: stiffer spring before a new shaft",
        {"stage": "tune", "kind": "plunger", "shaft": M600, "length_in": 31.0, "point": "P125",
         "says": ["stiff"]},
        (*twice(End(M600, 31, weak=4, point="P125")), End(M700, 31, weak=10, point="P125")),
        rig=PLUNGER, owned=AT_PLUNGER | {M700: 1},
        in_words={"kind": {"plunger", "point"}, "says": []},
    ),
    Story(
        "... 3 in to the stiff side: softer spring",
        {"stage": "tune", "kind": "plunger", "shaft": M600, "length_in": 29.5, "says": ["soft"]},
        twice(End(M600, 29.5, weak=-3.6, point="P125")), rig=PLUNGER, owned=AT_PLUNGER,
        in_words={"kind": {"plunger", "point"}, "says": []},
    ),
    Story(
        "plate of 1/16 in, a little stiff: not down to the bare riser",
        {"stage": "tune", "kind": {"plate", "point"}, "shaft": M500, "length_in": 29.5,
         "never": ["1/16 in (thinner|off|less)", "bare riser"]},
        twice(End(M500, 29.5, weak=-3.5)), owned={M500: 1, "P200": 6},
    ),
    Story(
        "plate of 1/32 in, a little stiff: nothing to take off, a heavier point",
        {"stage": "tune", "kind": "point", "shaft": M500, "length_in": 29.5, "point": "P200"},
        twice(End(M500, 29.5, weak=-3.5)), owned={M500: 1, "P200": 6},
        rig=rig_of(bow__plate={"thickness": 0.03125, "material": "leather"}),
    ),
    Story(
        "plate of 1/16 in, a little weak: 1/32 in out",
        {"stage": "tune", "kind": "plate", "shaft": M500, "length_in": 29.5, "says": [r"\d/\d+ in"]},
        twice(End(M500, 29.5, weak=3.6)), owned={M500: 1},
        in_words={"kind": {"plate", "cut"}, "length_in": {29.5, 29.25}},
    ),
    Story(
        "straight sideways, bare 5 in low: nocking point down",
        {"stage": {"tune", "prove"}, "kind": "nocking_point", "shaft": M500, "length_in": 29.5,
         "says": ["lower|down", r"\d/\d+ in"]},
        (End(M500, 29.5, weak=0.4, up=-5),), owned={M500: 1},
    ),
    Story(
        "straight sideways, bare 5 in high: nocking point up",
        {"stage": {"tune", "prove"}, "kind": "nocking_point", "shaft": M500, "length_in": 29.5,
         "says": ["raise|up|higher", r"\d/\d+ in"]},
        (End(M500, 29.5, weak=0.4, up=5),), owned={M500: 1},
    ),
    Story(
        "low and weak together: the nocking point first",
        {"stage": "tune", "kind": "nocking_point", "shaft": M500},
        twice(End(M500, 32, weak=8, up=-6)), owned={M500: 1, "P150": 6},
    ),
    Story(
        "straight at 10 yd, 5 in to the stiff side at 20: stiff",
        {"stage": "tune", "kind": {"shoot", "plate", "point", "plunger", "look_for_marks"}, "shaft": M500,
         "length_in": 29.5, "shot": {(M500, 29.5): {"reads": STIFF, "standing": NOT_STRAIGHT}}},
        (End(M500, 29.5, weak=0.3, yd=10), End(M500, 29.5, weak=-5)), owned={M500: 1, "P200": 6},
    ),
    Story(
        "straight from 10 yd only: shoot it again at 20 yd",
        {"stage": "prove", "kind": "shoot", "shaft": M500, "length_in": 29.5, "distance_yd": 20.0,
         "shot": {(M500, 29.5): {"standing": "straight so far"}}},
        (End(M500, 29.5, weak=0.4, yd=10),), owned={M500: 1},
    ),
    Story(
        "notebook of the old limbs only: the old arrow, bare, at 10 yd, and how it will read",
        {"stage": "tune", "kind": "shoot", "shaft": M400, "length_in": 29.5, "point": "P175",
         "distance_yd": 10.0, "says": ["stiff"]},
        (*twice(End(M400, 29.5, weak=0.4, state=HAD_55)),
         change("limbs", limbs_id="osier-2", draw_weight=47)),
        owned={M400: 1}, before=OLD_LIMBS,
    ),
    Story(
        "an owned arrow far too weak on paper: not to be shot, a kit instead",
        {"stage": "test_shafts", "kind": "buy", "shaft": lambda s: s != "MARSH-900",
         "says": ["MARSH-900|far too weak"]},
        owned={"MARSH-900": 3},
    ),
    Story(
        "... beside a fair one: that is shot first",
        {"stage": "tune", "kind": "shoot", "shaft": M400, "length_in": 32.0, "distance_yd": 10.0},
        owned={"MARSH-900": 3, M400: 1},
    ),
    Story(
        "two fair ones in hand, one may be too weak: stiffest first",
        {"stage": "tune", "kind": "shoot", "shaft": M400, "distance_yd": 10.0},
        owned={M400: 1, M500: 1, M600: 1},
    ),
    Story(
        "lighter points twice went the wrong way: not a third",
        {"stage": "tune", "kind": lambda kind: kind != "point"},
        (*twice(End(M500, 29.5, weak=5)), *twice(End(M500, 29.5, weak=9, point="P150")),
         *twice(End(M500, 29.5, weak=14, point="P125"))),
        owned={M500: 1, "P150": 6, "P125": 6, "P100": 6}, rig=THREE_D, forms=("hits",),
    ),
    Story(
        "one too-wide end: shoot it again",
        {"stage": "tune", "kind": "shoot", "shaft": M500, "length_in": 29.5,
         "shot": {(M500, 29.5): {"standing": "not clear yet"}}},
        (End(M500, 29.5, weak=3, spread=14, tails=False),), owned={M500: 1},
        in_words={"kind": {"shoot", "plate", "point", "cut"}, "shot": {}},
    ),
    Story(
        "two ends that contradict: shoot it again",
        {"stage": "tune", "kind": "shoot", "shaft": M500, "length_in": 29.5,
         "shot": {(M500, 29.5): {"standing": "not clear yet"}}},
        (End(M500, 29.5, weak=9), End(M500, 29.5, weak=-9)), owned={M500: 1},
    ),
    Story(
        "canted bow: weak seen in the bow's own frame, no nocking point",
        {"stage": "tune", "kind": {"cut", "point"}, "shaft": M500,
         "shot": {(M500, 32): {"reads": "weak"}}},
        twice(End(M500, 32, weak=9, tails=False)), owned={M500: 1, "P150": 6},
        rig=rig_of(HUNTER, bow__cant_deg=25),
    ),
]  # fmt: skip

#: at 20 yd half the sum of an archer's spreads counts as no less than 2 in and no more than 3 in
for _weak, _yd, _spread, _straight in (
    (1.8, 20, 0.15, True), (1.8, 20, 3.0, True), (3.4, 20, 3.0, False), (3.4, 20, 0.15, False),
    (1.8, 15, 1.0, True), (3.4, 15, 1.0, False), (1.8, 30, 1.0, True), (3.4, 30, 1.0, False),
):  # fmt: skip
    STORIES.append(
        Story(
            f"{_weak} in at 20 yd, shot at {_yd} yd, spread {_spread}: straight {_straight}",
            {"stage": "prove" if _straight else "tune", "shaft": M500, "length_in": 29.5,
             "shot": {(M500, 29.5): {"standing": {"straight so far"} if _straight else NOT_STRAIGHT}}},
            (End(M500, 29.5, weak=_weak, yd=_yd, spread=_spread, tails=False),), owned={M500: 1},
            forms=("hits",),
        )
    )  # fmt: skip
