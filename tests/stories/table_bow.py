"""Stories of the bow and of what is in hand: stages, changes, pieces, kits."""

import re

from story import End, Story, change, dozen, have
from story_rigs import HUNTER, MARKED, OLD_LIMBS, PLUNGER, rig_of, shop

M400, M500, M600 = "MARSH-400", "MARSH-500", "MARSH-600"
TWO = (0.4, -0.3)
SHAFT = re.compile(r"(MARSH|SEDGE|SPRUCE)-(\d+)")


def is_kit(items):
    """One line of shafts, at most four spines, neighbours of each other."""
    found = {m.groups() for b in items if (m := SHAFT.match(b["item"]))}
    if len({line for line, _ in found}) != 1:
        return False
    sold = sorted({m.groups() for row in shop() if (m := SHAFT.match(row["item"]))})
    sold = [one for one in sold if one[0] in {line for line, _ in found}]
    at = sorted(sold.index(one) for one in found)
    return len(at) <= 4 and at == list(range(at[0], at[0] + len(at)))


STORIES = [
    Story(
        "nothing known: start points first",
        {"stage": "set_up", "kind": {"set_up", "describe"}, "says": ["brace"]},
        rig=rig_of(bow__brace_height="unknown"), owned={M500: 1},
    ),
    Story(
        "no nocking point known: start points first",
        {"stage": "set_up", "kind": {"set_up", "describe"}, "says": ["nocking point"]},
        rig=rig_of(bow__nocking_point=None), owned={M500: 1},
    ),
    Story(
        "only a marked weight, nothing owned: weigh it; the kit for who has no scale",
        {"stage": "measure", "kind": "measure", "then": lambda text: "MARSH" in text},
        rig=MARKED,
    ),
    Story(
        "... without a scale: the kit",
        {"stage": "test_shafts", "kind": "buy", "buy": is_kit},
        rig=rig_of(MARKED, bow__draw_weight={"lb": 45, "at": 28, "no_scale": True}),
    ),
    Story(
        "... with a fair shaft in hand: shoot it",
        {"stage": "tune", "kind": "shoot", "shaft": M400, "distance_yd": 10.0},
        rig=MARKED, owned={M400: 1},
    ),
    Story(
        "nothing owned, a carbon line of seven spines, hunting: a kit of neighbours",
        {"stage": "test_shafts", "kind": "buy", "buy": is_kit},
    ),
    Story(
        "nothing owned, two lines and wood in the shop: one line all the same",
        {"stage": "test_shafts", "kind": "buy", "buy": is_kit}, only=".*",
    ),
    Story(
        "nothing in the stock can be right: what to look for",
        {"stage": "test_shafts", "says": [r"\b[345]\d\d\b", r"\d in\b", r"\d gr\b|point"],
         "buy": lambda items: "MARSH-900" not in str(items)},
        only="MARSH-900(-12)?",
    ),
    Story(
        "what was bought is in hand",
        {"stage": "tune", "kind": "shoot", "shaft": M400, "length_in": 32.0},
        (have(M400, 2),),
    ),
    Story(
        "... and what was lost is not",
        {"stage": "test_shafts", "kind": "buy"}, (have(M400, 0),), owned={M400: 2},
    ),
    Story(
        "the others of a row only noted short: are they cut too?",
        {"stage": "tune", "shaft": M500, "says": [r"MARSH-500\b.*\bcut"]},
        (End(M500, 29.5, weak=6),), owned={M500: 3},
    ),
    Story(
        "... answered, it is not asked again", {"never": ["cut too", "note have"]},
        (End(M500, 29.5, weak=6), have(M500, 3, 29.5)), owned={M500: 3},
    ),
    Story(
        "... nor when the others are long", {"never": ["cut too", "note have"]},
        (End(M500, 29.5, weak=6), have(M500, 3, 32)), owned={M500: 3},
    ),
    Story(
        "... nor where the stock says how long they are", {"never": ["cut too", "note have"]},
        (End(M500, 29.5, weak=6),), owned={M500: (3, 29.5)},
    ),
    Story(
        "... nor where a long one was noted", {"never": ["cut too", "note have"]},
        (End(M500, 32, weak=9), End(M500, 29.5, weak=4)), owned={M500: 2},
    ),
    Story(
        "a shaft that is in no stock: which row to add",
        {"stage": "tune", "kind": "describe", "says": ["HERON-500", "row|stock"]},
        (End("HERON-500", 29.5, weak=0.4),), owned={},
    ),
    Story(
        "free text that says nothing known is a setting, and asked about",
        {"stage": {"tune", "prove"}, "says": ["quiver"], "never": ["other before"],
         "shot": {(M500, 29.5): {"period": 0}}},
        (*(End(M500, 29.5, weak=w) for w in TWO), change("new quiver")), owned={M500: 1},
    ),
    Story(
        "rig.yaml says 75 lb, the ends 47, and no change was noted: another bow, nothing is tuned",
        {"stage": "test_shafts", "never": ["tuned", "shoot the MARSH-500"],
         "shot": {(M500, 29.5): {"period": lambda p: p > 0}}},
        (*(End(M500, 29.5, weak=w, state={"draw_weight": 47}) for w in (*TWO, 0.2)), dozen(M500, 29.5)),
        rig=rig_of(bow__draw_weight={"lb": 75, "at": "own_draw"}), owned={M500: 12},
    ),
    Story(
        "... a scale that repeats to a pound is no other bow",
        {"stage": "prove", "shaft": M500, "shot": {(M500, 29.5): {"period": 0}}},
        (*(End(M500, 29.5, weak=w, state={"draw_weight": 47.5}) for w in TWO),), owned={M500: 1},
    ),
    Story(
        "far too weak on paper and in flight: not shot again, whatever one end may be",
        {"stage": "tune", "shaft": lambda s: s != M600, "never": ["shoot the MARSH-600"],
         "shot": {(M600, 32.0): {"reads": "far too weak"}}},
        (End(M600, 32, weak=8),), owned={M600: 1}, forms=("hits",),
        rig=rig_of(bow__draw_weight={"lb": 62, "at": "own_draw"}, bow__maker_minimum_gr_per_lb=6),
    ),
]  # fmt: skip


def _changed(what, was, now, rig, period, before=None, shaft=M500, length=29.5, point="P175"):
    """A straight arrow, then the change: a setting waits for one end more, a period begins anew."""
    setting = not period
    return Story(
        f"{'setting' if setting else 'period'}: {what} {now}",
        {"stage": {"tune", "prove"}, "kind": "shoot", "shaft": shaft, "length_in": length,
         "distance_yd": {10, 20} if setting else {10}, "never": ["change of other"],
         "shot": {(shaft, length): {"period": 0} if setting else {"period": lambda p: p > 0}}
         | ({(shaft, length, "then"): {"period": 0}} if what in KEYED else {})},
        (*(End(shaft, length, weak=w, point=point, state=was) for w in TWO), change(what, **now)),
        rig=rig, owned={shaft: 1}, before=before,
    )  # fmt: skip


#: what makes an arrow shot before it another one; a brace within 1/4 in may be the same
KEYED = ("plunger", "plate", "nocking_point", "tiller", "silencers")
SOFT, HARD = {"spring": "medium", "turns": 2}, {"spring": "stiff", "turns": 2}
CHANGES = [
    ("plunger", {"plunger": SOFT}, {"plunger": HARD},
     rig_of(PLUNGER, bow__plunger=HARD | {"out": 0.0625}), False, None, M600, 30.5, "P125"),
    ("plate", {"plate": 0.0625}, {"plate": 0.09375},
     rig_of(bow__plate={"thickness": 0.09375, "material": "leather"}), False),
    ("nocking_point", {"nocking_point": 0.375}, {"nocking_point": 0.4375},
     rig_of(bow__nocking_point={"above_square": 0.4375, "locators": 2}), False),
    ("brace", {"brace": 7.5}, {"brace": 7.625}, rig_of(bow__brace_height=7.625), False),
    ("tiller", {"tiller": 0.125}, {"tiller": 0.0}, rig_of(bow__tiller=0), False),
    ("silencers", {}, {}, rig_of(string__silencers=10), False),
    ("string", {"string": "A", "string_material": "low_stretch"},
     {"string": "B", "string_material": "low_stretch"}, HUNTER, False),
    ("string", {"string": "A", "string_material": "polyester"},
     {"string": "B", "string_material": "low_stretch"}, HUNTER, True,
     rig_of(string__material="polyester")),
    ("draw_weight", {"draw_weight": 46.5}, {"draw_weight": 47}, HUNTER, False),
    ("draw_weight", {"draw_weight": 49}, {"draw_weight": 47}, HUNTER, True,
     rig_of(bow__draw_weight={"lb": 49, "at": "own_draw"})),
    ("limbs", {"limbs_id": "osier-1", "draw_weight": 50}, {"limbs_id": "osier-2", "draw_weight": 47},
     HUNTER, True, rig_of(OLD_LIMBS, bow__draw_weight={"lb": 50, "at": "own_draw"})),
    ("new limbs", {"draw_weight": 50}, {}, HUNTER, True),
    ("riser", {"draw_weight": 47}, {}, HUNTER, True),
    ("draw_length", {"draw_length": 28}, {"draw_length": 28.5}, HUNTER, True,
     rig_of(archer__draw_length=28)),
    ("release", {"release": "three_under"}, {"release": "split"}, HUNTER, True,
     rig_of(archer__release="three_under")),
    ("crawl", {"crawl": 1}, {"crawl": 0}, HUNTER, True),
]  # fmt: skip
STORIES += [_changed(*one) for one in CHANGES]
STORIES += [
    Story(
        "one straight end at the new setting: it leads again",
        {"stage": "prove", "shaft": M500, "length_in": 29.5, "kind": {"shoot", "make_second"},
         "shot": {(M500, 29.5, "now"): {"standing": {"straight so far", "flies straight"},
                                        "period": 0}}},
        (*(End(M500, 29.5, weak=w, state={"plate": 0.0625}) for w in TWO),
         change("plate", plate=0.09375), End(M500, 29.5, weak=0.2)),
        rig=rig_of(bow__plate={"thickness": 0.09375, "material": "leather"}), owned={M500: 1},
    ),
    Story(
        "off at the new setting: the shaft that flew before is kept, nothing is bought",
        {"stage": {"tune", "prove"}, "kind": {"plate", "shoot"}, "shaft": M500, "length_in": 29.5,
         "shot": {(M500, 29.5, "now"): {"standing": {"outside", "not clear yet"}}}},
        (*(End(M500, 29.5, weak=w, state={"plate": 0.0625}) for w in TWO),
         change("plate", plate=0.09375), End(M500, 29.5, weak=-7), End(M500, 29.5, weak=-7.2)),
        rig=rig_of(bow__plate={"thickness": 0.09375, "material": "leather"}), owned={M500: 1},
    ),
]  # fmt: skip
