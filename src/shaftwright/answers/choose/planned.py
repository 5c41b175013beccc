"""The builds of `choose` put in the plan's order: what flies straight leads, what is shot is marked."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from shaftwright.answers.choose.listing import ListedBuild
from shaftwright.answers.scenario import Scenario

if TYPE_CHECKING:
    from shaftwright.records.notebook import BuildSpec

_LEADS = ("prove", "dozen", "done")
#: lengths nearer than this are one [in]
_SAME_IN = 1 / 16


def as_planned(asked: Scenario, listed: tuple[ListedBuild, ...]) -> tuple[ListedBuild, ...]:
    """The plan's arrow first where it flies straight; in tune it stands among the others, marked."""
    then = asked.plan.next
    leads = then.stage in _LEADS
    if then.shaft is None or not (leads or then.stage == "tune"):
        return listed
    at = next((i for i, build in enumerate(listed) if _is_planned(asked, build)), None)
    own = _planned_build(asked) if at is None else listed[at]
    if own is None:
        return listed
    most = max(len(listed), 1)
    if leads:
        alone = len({b.shaft for b in listed}) == len(listed)
        others = (b for b in listed if b is not own and not (alone and b.shaft == own.shaft))
        found = (own, *others)[:most]
    elif at is None:
        found = (*listed[: most - 1], replace(own, marked=True))
    else:
        found = (*listed[:at], replace(own, marked=True), *listed[at + 1 :])
    return tuple(replace(build, rank=rank) for rank, build in enumerate(found, 1))


def _is_planned(asked: Scenario, build: ListedBuild) -> bool:
    then = asked.plan.next
    return (
        build.shaft == then.shaft
        and then.length_in is not None
        and abs(build.length_in - then.length_in) < _SAME_IN
        and build.point == (then.point or "")
        and build.insert == (then.insert or "")
        and not build.collar
    )


def _planned_build(asked: Scenario) -> ListedBuild | None:
    """The plan's arrow looked at by itself; None where nothing says what its parts are."""
    from shaftwright.answers.build import one_build
    from shaftwright.errors import InputError
    from shaftwright.inference.resolve import resolve_build

    try:
        spec = _spec(asked)
        if spec is None:
            return None
        listed = one_build(asked, resolve_build(spec, asked.stock, "plan"), asked.stock).listed
    except (ValueError, InputError):
        return None
    return listed if listed.shaft else replace(listed, shaft=asked.plan.next.shaft or "")


def _spec(asked: Scenario) -> BuildSpec | None:
    """The plan's arrow by the names of the stock, or by the numbers it was noted with."""
    from shaftwright.records.notebook import BareShaft, BuildSpec

    then, stock = asked.plan.next, asked.stock
    if stock is not None and then.shaft in stock.by_name:
        head = stock.by_name.get(then.point or "")
        at_front = "broadhead" if head is not None and head.kind == "broadhead" else "point"
        parts = {
            "shaft": then.shaft,
            "length": then.length_in,
            at_front: then.point,
            "insert": then.insert,
        }
        return BuildSpec.model_validate({k: v for k, v in parts.items() if v is not None})
    noted = (e.build for e in reversed(asked.entries) if isinstance(e, BareShaft))
    alike = (b for b in noted if b.by_numbers and then.shaft == f"spine {b.spine_mils:g}")
    spec = next(alike, None)
    return spec and spec.model_copy(update={"length_in": then.length_in})
