"""The notebook's entries put together arrow by arrow; what a fair end is."""

from __future__ import annotations

from typing import TYPE_CHECKING

from shaftwright.answers.arrows.shot import Arrow, End, Key, build_key, within_in
from shaftwright.inference.evidence.summary import Reading
from shaftwright.inference.resolve import resolve_build
from shaftwright.parameters import setting
from shaftwright.records.builds import Builds
from shaftwright.records.notebook import BareShaft, Broadhead

if TYPE_CHECKING:
    from shaftwright.answers.scenario import Scenario


def arrows_shot(scenario: Scenario) -> tuple[Arrow, ...]:
    """Every arrow shot with coordinates or words, of this bow and of those before."""
    learned = scenario.learned
    if learned is None:
        return ()
    groups: dict[Key, list[Reading]] = {}
    specs: dict[Key, Builds] = {}
    made: dict[str, Builds] = {}
    for reading in learned.readings:
        spec = reading.entry.build
        name = repr(spec)
        if name not in made:
            made[name] = resolve_build(spec, scenario.stock)
        key = (*build_key(spec, made[name]), reading.setting, reading.period)
        groups.setdefault(key, []).append(reading)
        specs.setdefault(key, made[name])
    _heads_to_bare(groups, specs)
    within = within_in(learned)
    arrows = []
    for key, readings in groups.items():
        bare = [r for r in readings if isinstance(r.entry, BareShaft)]
        heads = tuple(r for r in readings if isinstance(r.entry, Broadhead))
        if not bare and readings[0].period == 0 and not heads:
            continue
        # the build most readings were taken with; of equals the taped one
        index = max(
            {r.build for r in (bare or readings)},
            key=lambda k: (sum(r.build == k for r in bare), learned.builds[k].taped, -k),
        )
        first = next(r for r in (bare or readings) if r.build == index)
        arrows.append(
            Arrow(
                first.entry.build, specs[key], learned.builds[index], readings[0].period,
                readings[0].setting, tuple(map(_end, bare)), heads, learned.slope, within,
            )
        )  # fmt: skip
    return tuple(arrows)


def _heads_to_bare(groups: dict[Key, list[Reading]], specs: dict[Key, Builds]) -> None:
    """Broadheads of nearly the point's weight count for the arrow that was shot bare with the point."""
    heads = {k: [r for r in found if isinstance(r.entry, Broadhead)] for k, found in groups.items()}
    bare = [k for k, found in groups.items() if len(heads[k]) < len(found)]
    for key in [k for k in bare if not heads[k]]:
        front = float(specs[key].front_gr[0])
        # all of the key but the weight up front is the same
        apart = {
            k: abs(float(specs[k].front_gr[0]) - front)
            for k, found in heads.items() if found and k[:2] + k[3:] == key[:2] + key[3:]
        }  # fmt: skip
        near = min(apart, key=lambda k: (apart[k], repr(k)), default=None)
        if near is not None and apart[near] < setting("plan.head_step_gr") - 1:
            groups[key] += heads[near]
    for key in [k for k in groups if k not in bare and groups[k][0].period == 0]:
        if any(r is heads[key][0] for k in bare for r in groups[k]):
            del groups[key]


def _end(reading: Reading) -> End:
    entry, look = reading.entry, reading.look
    assert isinstance(entry, BareShaft)
    side = up = None
    enough = True
    if look.centre is not None:
        side, up = float(look.centre[0]), float(look.centre[1])
        enough = (
            look.kept.sum() >= setting("plan.fair_bare")
            and len(look.fletched) >= setting("plan.fair_fletched")
        )  # fmt: skip
    elif entry.reads is not None:
        word = "slight_word_in" if entry.reads.startswith("slightly") else "plain_word_in"
        size = 0.0 if entry.reads == "straight" else setting(f"plan.{word}")
        side = size if "stiff" in entry.reads else -size
    void = bool(look.void) or look.disagree or not enough
    fair = (
        side is not None and enough and not void and entry.marks in ("none", "not_looked")
        and entry.distance_yd >= setting("plan.fair_yd") - 1e-9
    )  # fmt: skip
    return End(reading, side, up, fair, void, entry.piece or 1)
