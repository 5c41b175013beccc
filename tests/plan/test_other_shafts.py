"""Other shafts by themselves: which in hand, which cut a little first, which bought, and how long it is first shot."""

from types import SimpleNamespace as Some

import pytest
from plan_ends import SHOP
from plan_fakes import (
    WITHIN,
    arrow_of,
    as_told,
    faked,
    levers_of,
    look_of,
    named,
    numbered,
    spec_of,
    where_of,
)

from shaftwright.answers.arrows.outlook import Idea
from shaftwright.answers.arrows.pieces import Piece
from shaftwright.answers.plan import levers
from shaftwright.answers.plan.result import Buy
from shaftwright.inference.resolve import resolve_build
from shaftwright.parameters import setting
from shaftwright.records.stock import Stock

FAR = setting("plan.far_cut_in")


# ---------------------------------------------------------------- other shafts in hand


def piece(shaft="MARSH-400", length=32.0, number=1):
    return Piece(shaft, number, length, False)


def shaft(piece, middle=0.0, inside=0.5, buy=(), point="P175", **more):
    spec = named(piece.shaft, more.pop("length", piece.length_in), point)
    return look_of(middle, spec=spec, piece=piece, kind=more.pop("kind", "shaft"), inside=inside,
                   buy=tuple(Buy(b, 1) for b in buy), **more)  # fmt: skip


def offered(monkeypatch, off, ready, shorter=(), others=(), pieces=None):
    """What shafts in hand come to, of what they should do as they are or cut."""
    found = levers_of(off, off, others=others)
    asked = {}

    def is_ready(new, spec):
        asked["ready"] = list(new)
        return [o for o in ready if o.idea.piece in new]

    def is_shorter(new, spec):
        asked["shorter"] = list(new)
        return [o for o in shorter if o.idea.piece in new]

    found.makeable = Some(ready=is_ready, shorter=is_shorter, pieces="all", fair="fair")
    monkeypatch.setattr(levers, "outlooks", lambda of, ideas, weights: ideas)
    monkeypatch.setattr(found, "sure", lambda look: True)
    every = list(dict.fromkeys(o.idea.piece for o in (*ready, *shorter)))
    return found.pieces(every if pieces is None else pieces), asked


STIFFER, WEAKER = piece("MARSH-400"), piece("MARSH-600")


def test_a_shaft_in_hand_must_be_on_the_side_asked_for_however_far(monkeypatch):
    stiff, weak = shaft(STIFFER, 12.0), shaft(WEAKER, -12.0)
    assert offered(monkeypatch, -5, [stiff, weak])[0] == [stiff]
    assert offered(monkeypatch, 5, [stiff, weak])[0] == [weak]


def test_what_lay_outside_is_not_shot_again_as_another_piece(monkeypatch):
    tried = arrow_of(9, spec=named("MARSH-400", 31.0))
    long = piece("MARSH-400", 31.03125)  # a sixteenth apart is one arrow
    assert offered(monkeypatch, -5, [shaft(long, 1.0)], others=(tried,))[0] == []


NEAR = setting("plan.same_length_in")


@pytest.mark.parametrize(
    ("apart", "now", "left"), [(NEAR, True, True), (NEAR - 0.01, True, False), (-NEAR + 0.01, True, False), (0.0, False, True)],
)  # fmt: skip
def test_a_piece_as_long_as_one_that_was_shot_is_that_arrow(apart, now, left):
    shot = arrow_of(9, spec=named("MARSH-400", 30.0), setting=() if now else (("plate", "1/8 in"),))
    found = levers_of(-5, others=(shot,), where=where_of(shot))
    found.shot = (shot, arrow_of(9, spec=named("MARSH-600", 31.0)))
    assert found._not_shot([piece(length=30 + apart)]) == (
        [piece(length=30 + apart)] if left else []
    )


def test_fewest_to_buy_then_likeliest_to_a_tenth_then_the_nearest_front(monkeypatch):
    pieces = [piece("MARSH-400", 32.0 - n / 2, n) for n in range(5)]
    looks = [
        shaft(pieces[0], 1.0, 0.9, buy=("P175",)), shaft(pieces[1], 1.0, 0.54, point="P250"),
        shaft(pieces[2], 1.0, 0.46, point="P200"), shaft(pieces[3], 1.0, 0.46, point="P125"), shaft(pieces[4], 1.0, 0.6),
    ]  # fmt: skip
    found = offered(monkeypatch, -5, looks)[0]
    assert found == [looks[4], looks[2], looks[3], looks[1], looks[0]]


def cut_of(piece, middle, length=30.0, draws=None, **more):
    return shaft(
        piece,
        middle,
        kind="cut",
        length=length,
        amount=length - piece.length_in,
        draws=draws,
        **more,
    )


@pytest.mark.parametrize(("as_it_is", "cuts"), [(-FAR - 0.1, True), (-FAR, False), (None, True)])
def test_a_weaker_shaft_that_would_be_far_off_as_it_is_is_cut_a_little_first(
    monkeypatch, as_it_is, cuts
):
    long = [] if as_it_is is None else [shaft(WEAKER, as_it_is)]
    short = [cut_of(WEAKER, -1.0, inside=0.6), cut_of(WEAKER, -3.0, 30.5, inside=0.5)]
    other = piece("MARSH-700")
    found = offered(monkeypatch, 9, [*long, shaft(other, -1.0)], short)[0]
    mine = [o for o in found if o.idea.piece == WEAKER]
    assert mine == ([short[0]] if cuts else long)
    assert any(o.idea.piece == other for o in found)


def test_of_a_pieces_fronts_the_one_nearest_as_it_is_counts(monkeypatch):
    long = [shaft(WEAKER, -9.0), shaft(WEAKER, -4.0, point="P125")]
    found = offered(
        monkeypatch, 9, [*long, shaft(piece("MARSH-700"), -30.0)], [cut_of(WEAKER, -1.0)]
    )[0]
    assert [o for o in found if o.idea.piece == WEAKER] == long


def test_a_cut_weaker_shaft_may_land_as_far_out_on_its_own_side(monkeypatch):
    short = cut_of(WEAKER, -12.0)
    assert offered(monkeypatch, 9, [shaft(WEAKER, -20.0)], [short])[0] == [short]


def test_a_cut_that_may_go_too_far_is_none(monkeypatch):
    long, over = [shaft(WEAKER, -9.0)], [WITHIN + 1] * 11 + [0.0] * 89
    assert offered(monkeypatch, 9, long, [cut_of(WEAKER, -1.0, draws=over)])[0] == long
    just = [WITHIN + 1] * 10 + [0.0] * 90
    assert offered(monkeypatch, 9, long, [cut_of(WEAKER, -1.0, draws=just)])[0] != long


def test_a_cut_that_is_unsafe_is_none(monkeypatch):
    long = [shaft(WEAKER, -9.0)]
    assert offered(monkeypatch, 9, long, [cut_of(WEAKER, -1.0, weak=0.5)])[0] == long


def test_only_unknown_shafts_are_thought_of_shorter_and_only_for_a_stiff_arrow(monkeypatch):
    known = piece("MARSH-500")
    _, asked = offered(monkeypatch, 9, [shaft(known, -1.0), shaft(WEAKER, -1.0)])
    assert asked == {"ready": [known, WEAKER], "shorter": [WEAKER]}
    _, asked = offered(monkeypatch, -9, [shaft(STIFFER, 1.0)])
    assert asked == {"ready": [STIFFER], "shorter": []}
    elsewhere = arrow_of(9, spec=named("MARSH-600", 29.0), setting=(("plate", "1/8 in"),))
    _, asked = offered(monkeypatch, 9, [shaft(WEAKER, -1.0)], others=(elsewhere,))
    assert asked["shorter"] == [WEAKER]


def test_fair_pieces_are_those_with_a_fair_chance():
    found = levers_of(-5)
    found.makeable = Some(fair="fair")
    found.pieces = lambda pieces: [pieces]
    assert found.fair_pieces == ["fair"]


def test_stiffer_ones_in_hand_the_nearest_first_and_nothing_to_buy_before():
    found = levers_of(-5)
    looks = [shaft(STIFFER, -9.0), shaft(piece("MARSH-340"), 3.0), shaft(STIFFER, 1.0, buy=("P175",)), shaft(WEAKER, 0.0),
             shaft(piece("MARSH-500"), 0.0)]  # fmt: skip
    found.makeable = Some(ready=lambda pieces, like: looks, pieces=())
    assert found.stiffer_in_hand() == [looks[1], looks[0], looks[2]]


# ---------------------------------------------------------------- shafts to buy


def row(item, spine, like="MARSH-500", **more):
    return SHOP.by_name[like].model_copy(
        update={"item": item, "spine_mils": float(spine), "in_hand": 0} | more
    )


def shop(*rows):
    parts = [i for i in SHOP.items if i.kind != "shaft"]
    return Stock((row("MARSH-500", 500, in_hand=1), *rows, *parts))


def bought(side, *rows, length=30.0, held=None, looks=None):
    """The shafts thought of, in what order they are named, by hand."""
    stock = shop(*rows)
    found = levers_of(side, side, stock=stock, spec=named(length=length))
    if held is not None:
        found.scenario.__dict__["held"] = Some(
            of=lambda item: held if item == "MARSH-500" else (), stock=stock
        )
    found._uncut = lambda shaft: [Idea(named(shaft.item, 32.0), found.rig, kind="buy")]
    found.judged = lambda ideas, overshoot: [
        look_of(spec=i.spec, kind="buy", build=found.arrow.build, **(looks or {}).get(i.spec.shaft, {})) for i in ideas if overshoot
    ]  # fmt: skip
    return [o.idea.spec.shaft for o in found.shafts_to_buy()]


SPINES = [row(f"S{n}", n) for n in (249, 250, 490, 491, 509, 510, 750, 751)]


def test_shafts_are_bought_on_the_side_asked_for_neither_the_same_nor_half_as_stiff():
    """Spines two hundredths apart are one; beyond half again or half as much nobody goes in one step."""
    assert sorted(bought(-9, *SPINES)) == ["S250", "S490"]
    assert sorted(bought(9, *SPINES)) == ["S510", "S750"]


def test_another_material_is_no_like_shaft():
    wood = row("WOOD", 400, material="wood")
    assert bought(-9, wood, row("S400", 400)) == ["S400"]


@pytest.mark.parametrize(
    ("length", "owned", "again"),
    [
        (30.0, 30.0, True),
        (31.93, 31.0, False),
        (30.0, 31.93, True),
        (31.94, 31.9, False),
        (31.9, 31.9, True),
        (30.0, 31.94, False),
        (30.0, 32.0, False),
    ],
)
def test_a_stiff_one_takes_the_same_shaft_longer_where_none_so_long_is_in_hand(
    length, owned, again
):
    held = (piece("MARSH-500", owned),)
    found = bought(9, row("S600", 600), row("OTHER", 500), length=length, held=held)
    assert found == (["S600", "MARSH-500"] if again else ["S600"])
    assert bought(-9, length=length, held=held) == []


def test_the_same_line_first_then_the_likelier_to_a_tenth_then_the_smaller_pack():
    rows = [
        row("FEN", 400, line="FEN"),
        row("A12", 400, pack=12),
        row("A1", 400),
        row("BETTER", 340, pack=12),
    ]
    looks = {
        "A12": {"inside": 0.54},
        "A1": {"inside": 0.46},
        "BETTER": {"inside": 0.6},
        "FEN": {"inside": 0.9},
    }
    assert bought(-9, *rows, looks=looks) == ["BETTER", "A1", "A12", "FEN"]


def test_however_the_figures_think_of_it_a_stiffer_one_is_sold_the_nearest_of_its_line_first(
    monkeypatch,
):
    rows = [
        row("S340", 340),
        row("S400", 400),
        row("FEN", 450, line="FEN"),
        row("S600", 600),
        row("LIGHT", 410),
    ]
    stock = shop(*rows)
    found = levers_of(9, 9, stiff=False, stock=stock)
    found._uncut = lambda shaft: [Idea(named(shaft.item, 32.0), found.rig, kind="buy")]
    ruled_out = {"inside": 0.0, "weak": 0.9}
    monkeypatch.setattr(levers, "outlooks", lambda of, ideas: [
        look_of(20, spec=i.spec, kind="buy", build=resolve_build(i.spec, stock), heavy=i.spec.shaft != "LIGHT",
                **ruled_out) for i in ideas
    ])  # fmt: skip
    assert [o.idea.spec.shaft for o in found.stiffer_sold()] == ["S400", "S340", "FEN"]


def test_a_shaft_of_no_stock_has_no_like():
    assert levers_of(-9, stock=None, where=where_of(stock=None), spec=numbered()).shaft is None
    found = levers_of(-9, spec=named(), where=where_of(stock=Stock()))
    assert found.shafts_to_buy() == []
    assert found.stiffer_sold() == []
    assert list(found.new_ones()) == []


def test_the_same_shaft_anew_or_its_like():
    stock = shop(row("LIKE", 500), row("STIFF", 400), row("TUBE", 500, material="aluminium"))
    found = levers_of(-9, stock=stock)
    found._uncut = lambda shaft: [shaft.item]
    assert list(found.new_ones()) == ["MARSH-500", "LIKE"]


@pytest.mark.parametrize("side", [-9, 9])
def test_by_numbers_the_usual_spines_on_the_side_asked_for(monkeypatch, side):
    found = levers_of(side, side, spec=numbered())
    ideas = []
    monkeypatch.setattr(found, "judged", lambda some: ideas.extend(some) or "judged")
    assert found.shafts_to_buy() == "judged"
    spines = [i.spec.spine_mils for i in ideas]
    assert spines
    assert all((s > 500) == (side > 0) for s in spines)
    assert [i.buy for i in ideas] == [(Buy(f"spine {s:.0f}", 1),) for s in spines]
    assert [i.amount for i in ideas] == spines
    assert {(i.kind, i.spec.gr_per_in, i.spec.length_in) for i in ideas} == {("buy", None, 30)}


# ---------------------------------------------------------------- as long as is safe


def uncut(
    monkeypatch, side, middles, *, rows=(), item="S400", weak=None, spec=None, stock=None, full=32.0
):
    """The new shaft as it is first shot; `middles` by length."""
    stock = stock or shop(row("S400", 400, full_length_in=full), *rows)

    def make(idea):
        length = idea.spec.length_in
        return as_told(idea, middles(length), weak=(weak or (lambda x: 0.0))(length), stock=stock)

    found = levers_of(side, side, stock=stock, spec=spec)
    asked = faked(monkeypatch, make)
    ideas = list(found._uncut(stock.by_name[item]))
    assert len(ideas) <= 1
    return (ideas[0] if ideas else None), [i.spec.length_in for i in asked]


def test_a_new_shaft_is_shot_as_it_comes(monkeypatch):
    idea, asked = uncut(
        monkeypatch, -9, lambda x: 1.0, spec=named(nock="N246", collar="C292-14", wrap="W5")
    )
    assert asked == [32 - n / 2 for n in range(8)]  # by halves to the shortest safe one
    assert (idea.kind, idea.amount, idea.base, idea.piece) == ("buy", 0, None, None)
    assert (idea.spec.shaft, idea.spec.length_in, idea.spec.point, idea.spec.insert) == (
        "S400",
        32,
        "P175",
        "I25",
    )
    assert idea.spec.nock is idea.spec.collar is idea.spec.wrap is None
    assert idea.buy == (Buy("S400", 1),)


@pytest.mark.parametrize(
    ("full", "lengths"),
    [(28.25, [28.25]), (28.7, [28.7]), (28.2, []), (29.25, [29.25, 28.75, 28.25])],
)
def test_no_length_is_under_the_shortest_safe_one(monkeypatch, full, lengths):
    assert uncut(monkeypatch, -9, lambda x: 1.0, full=full)[1] == lengths


LIMIT = setting("matching.far_too_weak_chance")


def test_where_it_may_be_far_too_weak_so_long_it_is_cut_to_be_safe(monkeypatch):
    idea, _ = uncut(
        monkeypatch, -9, lambda x: 1.0, weak=lambda x: LIMIT + (0.01 if x > 31 else 0.0)
    )
    assert (idea.spec.length_in, idea.amount) == (31, 1)
    assert uncut(monkeypatch, -9, lambda x: 1.0, weak=lambda x: 0.5)[0] is None


def test_a_weaker_one_is_no_longer_than_leaves_it_a_few_cuts_from_straight(monkeypatch):
    """For a stiff arrow; for a weak one the stiffer shaft stays as long as it comes."""

    def falling(length):
        return 30 - length - FAR  # near enough from 30 in down

    assert uncut(monkeypatch, 9, falling)[0].spec.length_in == 30
    assert uncut(monkeypatch, -9, falling)[0].spec.length_in == 32


@pytest.mark.parametrize(("shortest_at", "taken"), [(-8.0, 28.5), (-9.0, 28.5), (-9.1, None)])
def test_where_none_is_so_near_the_shortest_must_at_least_be_nearer(
    monkeypatch, shortest_at, taken
):
    idea, _ = uncut(monkeypatch, 9, lambda x: shortest_at - (x - 28.5))
    assert (None if idea is None else idea.spec.length_in) == taken


def test_a_point_that_does_not_fit_is_no_arrow(monkeypatch):
    spruce = SHOP.by_name["SPRUCE-1132-45"]
    stock = Stock(
        (row("MARSH-500", 500, in_hand=1), spruce, *(i for i in SHOP.items if i.kind != "shaft"))
    )
    wood = spec_of(shaft="SPRUCE-1132-45", length_in=28.5, point="PW-1132-125")
    assert (
        uncut(monkeypatch, -9, lambda x: 1.0, item="MARSH-500", stock=stock, spec=wood)[0] is None
    )
    bare = spec_of(shaft="MARSH-500", length_in=30.0)
    assert uncut(monkeypatch, -9, lambda x: 1.0, spec=bare)[0] is None


def test_for_another_bore_the_cheapest_insert_is_bought_too(monkeypatch):
    """0.204 in: I25 is for 0.246; what is not in hand is bought with it."""
    narrow = row("NARROW", 400, inside_diameter_in=0.204)
    idea, _ = uncut(monkeypatch, -9, lambda x: 1.0, rows=(narrow,), item="NARROW")
    assert idea.spec.insert.startswith("I204-")
    assert idea.buy == (Buy("NARROW", 1), Buy(idea.spec.insert, 1))
    odd = row("ODD", 400, inside_diameter_in=0.3, outside_diameter_in=0.35)
    assert uncut(monkeypatch, -9, lambda x: 1.0, rows=(odd,), item="ODD")[0] is None


def test_a_point_that_is_not_in_hand_is_bought_with_it(monkeypatch):
    idea, _ = uncut(monkeypatch, -9, lambda x: 1.0, spec=named(point="P200"))
    assert idea.buy == (Buy("S400", 1), Buy("P200", 1))
    heavy, _ = uncut(monkeypatch, -9, lambda x: 1.0, spec=named(insert="I100"))
    assert heavy.spec.insert == "I100"  # it fits, so it stays
    plain, _ = uncut(monkeypatch, -9, lambda x: 1.0, spec=named(insert=None))
    assert plain.buy == (Buy("S400", 1),)
    heads = spec_of(shaft="MARSH-500", length_in=30.0, broadhead="B175", insert="I25")
    assert uncut(monkeypatch, -9, lambda x: 1.0, spec=heads)[0].spec.broadhead == "B175"
