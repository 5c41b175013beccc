"""Arrows, what they should do, and a bow they were shot from, put together by hand for one decision by itself.

Inches are at 20 yd, + stiff or high; what counts as straight is 2 1/2 in unless told.
"""

import datetime as dt
from types import SimpleNamespace as Some

import numpy as np
from plan_ends import owning, rig_with

from shaftwright.answers.arrows.outlook import Idea, Outlook
from shaftwright.answers.arrows.pieces import InHand, Piece
from shaftwright.answers.arrows.shot import Arrow
from shaftwright.answers.plan import levers
from shaftwright.answers.plan.levers import Levers
from shaftwright.answers.scenario import scenario
from shaftwright.inference.resolve import resolve_build
from shaftwright.records.notebook import BuildSpec
from shaftwright.records.stock import Stock

WITHIN = 2.5
#: as many as before any shot
DRAWS = 2048
ONE = owning(MARSH_500=1)
TWO = owning(MARSH_500=1, MARSH_400=1)


def spec_of(**parts):
    """An arrow as it is noted."""
    return BuildSpec.model_construct(**parts)


def named(shaft="MARSH-500", length=30.0, point="P175", insert="I25", **parts):
    """An arrow by the names of the shop."""
    return spec_of(shaft=shaft, length_in=length, point=point, insert=insert, **parts)


def numbered(spine=500.0, length=30.0, front=200.0):
    """An arrow by numbers."""
    return spec_of(spine_mils=spine, gr_per_in=7.4, length_in=length, front_gr=front, tail_gr=20.0)


def end_of(side=0.0, up=0.0, *, fair=True, void=False, piece=1, marks="none", tail=None, high=None,
           shots=3, day=None, disagree=False, scattered=False, fliers=0, yards=20):  # fmt: skip
    """One end of bare shafts."""
    look = Some(tail=tail, tail_up=high, bare=(None,) * shots, disagree=disagree, void=scattered)
    date = None if day is None else dt.date(2026, 5, day)
    return Some(side_in=side, up_in=up, fair=fair, void=void, too_few=False, piece=piece, tail=tail, shots=shots,
                fliers=fliers, seen_right_in=None if side is None or not shots else -side,
                entry=Some(marks=marks, date=date, distance_yd=yards), reading=Some(look=look, line=0))  # fmt: skip


def arrow_of(*sides, spec=None, ends=None, off=None, draws=None, before=0.0, weak=0.0, period=0,
             setting=(), heads=(), within=WITHIN, stock=ONE, rig=None, **of_ends):  # fmt: skip
    """An arrow whose ends lay so far aside; what is believed of it is their middle unless told."""
    spec = named() if spec is None else spec
    ends = tuple(end_of(side, **of_ends) for side in sides) if ends is None else tuple(ends)
    told = [e.side_in for e in ends if e.side_in is not None]
    off = (sum(told) / len(told) if told else 0.0) if off is None else off
    believed = np.full(DRAWS, float(off)) if draws is None else np.asarray(draws, dtype=float)
    build = resolve_build(spec, stock)
    known = Some(spec=spec, build=build, rig=rig or rig_with(), period=period, taped=True, mismatch_lb=believed,
                 before_lb=np.full(len(believed), before), far_too_weak=weak)  # fmt: skip
    return Arrow(spec, build, known, period, tuple(setting), ends, tuple(heads),
                 np.ones(len(believed)), within)  # fmt: skip


def look_of(middle=0.0, *, spec=None, base=None, piece=None, buy=(), kind="point", amount=0.0, rig=None,
            inside=0.5, weak=0.0, long=True, heavy=True, per_lb=9.5, wanted=(8.0, 10.0), draws=None,
            stock=ONE, build=None):  # fmt: skip
    """What an arrow should do."""
    spec = named() if spec is None else spec
    drawn = np.full(DRAWS, float(middle)) if draws is None else np.asarray(draws, dtype=float)
    idea = Idea(spec, rig or rig_with(), base, piece, tuple(buy), kind, amount)
    build = resolve_build(spec, stock) if build is None else build
    return Outlook(
        idea, build, drawn, drawn, float(middle), inside, weak, per_lb, long, heavy, wanted
    )


def where_of(*arrows, looks=None, stock=ONE, purpose="practice", hand="right", entries=(), rig=None,
             **given):  # fmt: skip
    """Everything known of the example bow, of which these arrows were shot; each should do as it did unless told."""
    of = scenario(rig or rig_with(purpose, hand), stock=stock, entries=entries)
    where = of.where
    here = tuple(a for a in arrows if a.period == 0)
    as_they_did = {a: look_of(a.off_in, spec=a.spec, base=a, build=a.build) for a in arrows}
    where.__dict__.update({
        "arrows": arrows, "here": here, "within": WITHIN, "_looks": as_they_did | (looks or {}), **given,
    })  # fmt: skip
    return where


def levers_of(*sides, stiff=None, now=None, stock=ONE, others=(), rig=None, where=None, **more):
    """The levers of an arrow; from the bow as it stands it should land where it did unless told."""
    arrow = arrow_of(*sides, stock=stock, **more)
    where = where or where_of(arrow, *others, stock=stock, rig=rig)
    found = Levers(where, arrow, stiff)
    found.__dict__["_now"] = now or look_of(
        arrow.off_in, spec=arrow.spec, base=arrow, build=arrow.build, inside=arrow.chance_inside
    )
    return found


def faked(monkeypatch, make):
    """What ideas should do, by hand; the ideas that were asked about."""
    asked = []

    def outlooks(of, ideas, shot=None):
        asked.extend(ideas)
        return [make(idea) for idea in ideas]

    monkeypatch.setattr(levers, "outlooks", outlooks)
    return asked


def as_told(idea, middle=0.0, **more):
    """An idea with where it should land."""
    return look_of(middle, spec=idea.spec, base=idea.base, piece=idea.piece, buy=idea.buy, kind=idea.kind,
                   amount=idea.amount, rig=idea.rig, **more)  # fmt: skip


def without(*shafts, stock=TWO):
    """The shop without some shafts."""
    return Stock(tuple(i for i in stock.items if not i.item.startswith(shafts)))


def owned(*pieces):
    """A shop with these shafts in hand: number and length."""
    return InHand(ONE, tuple(Piece("MARSH-500", n, x, n == 1) for n, x in pieces))


def second(side=1.0, ends=3, first=1.0):
    """Ends of the first shaft, then of a second one alike."""
    return [end_of(first)] * ends + [end_of(side, piece=2)]
