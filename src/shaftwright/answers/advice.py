"""The first line: what to do next, in the archer's words."""

from __future__ import annotations

from dataclasses import replace

from shaftwright.answers.choose import Choice
from shaftwright.answers.first_tests import Trial, best_chance, stock_trials, usual_trials
from shaftwright.records.stock import StockItem, shaft_facts
from shaftwright.rules.purposes import setting
from shaftwright.units import inches, percent

SURE_ENOUGH = "sure_enough_chance"
_NUMBERS = {2: "two", 3: "three"}


def advice(choice: Choice) -> str:
    """What to do next.

    Parameters
    ----------
    choice : Choice
        An answer.

    Returns
    -------
    str
        One sentence.
    """
    if choice.ranking is not None and not choice.listed:
        return (
            "Nothing in this stock can be built within the limits; see what was turned away below."
        )
    if choice.ranking is not None and _last_may_be_far_too_weak(choice):
        return (
            "First settle the last bare shaft: it may be far too weak, so shoot nothing weaker, longer or "
            "heavier up front; shaftwright bareshaft says what to do."
        )
    return f"{_headline(choice)}{_test_going_on(choice)}."


def _headline(choice: Choice) -> str:
    if choice.ranking is None:
        return _usual_tests(choice)
    best = choice.listed[0]
    likeliest = max(best_chance(b) for b in choice.listed)
    if likeliest < setting("decent_chance"):
        return f"Nothing in this stock suits well: best chance {percent(likeliest)}; {_look_for(choice)}"
    if best.chance_match >= setting(SURE_ENOUGH):
        assert choice.candidates is not None
        owned = {item.item for item in choice.candidates.items if item.in_hand}
        point = best.point + ("" if best.point in owned else " (to buy)")
        return (
            f"Build two proof arrows before the dozen: {best.shaft} at {inches(best.length_in)} "
            f"with {point}, {best.front_gr:.0f} gr up front"
        )
    return _test_shafts(choice)


def _look_for(choice: Choice) -> str:
    """Spines to look for elsewhere, and wood groups where wood is in question."""
    band, uncut = choice.band, choice.band_uncut
    groups = choice.wood_groups
    wood = f" (wood marked {groups[0][0]:g} to {groups[-1][1]:g} lb)" if groups else ""
    return (
        f"look for shafts between {min(band.low, uncut.low):.0f} and "
        f"{max(band.high, uncut.high):.0f}{wood}"
    )


def _usual_tests(choice: Choice) -> str:
    """Two of the usual spine nearest the middle that may be left uncut, and one of the next."""
    trials = usual_trials(choice)
    if not trials:
        stiffest = min(choice.band.low, choice.band_uncut.low)
        return (
            "Buy no usual shaft: all that most shops keep may be far too weak for this bow; "
            f"look for shafts as stiff as {stiffest:.0f}"
        )
    main = next((t for t in trials if t.uncut), trials[0])
    told = _counted(trials, main, [t.name for t in trials])
    cuts = "".join(
        f"; cut the {t.name} to {inches(t.length_in)} first: uncut it may be far too weak"
        for t in _stiffest_first(trials) if not t.uncut
    )  # fmt: skip
    return f"{told}{_fitted(trials)}{cuts or _uncut(trials)}"


def _test_shafts(choice: Choice) -> str:
    """Up to two shafts, stiffest first; what is in hand before anything is bought."""
    trials = stock_trials(choice)
    if not trials:
        return (
            "Shoot nothing from this stock yet: each likely shaft may be far too weak for a first shot, "
            f"or too light with the points of this stock; {_look_for(choice)}"
        )
    # what is to be bought goes by the name of its smallest pack
    packs = {t.name: _smallest_pack(choice, t) for t in trials if not t.owned}
    trials = [replace(t, name=packs[t.name].item) if t.name in packs else t for t in trials]
    buy = {pack.item: _to_order(pack) for pack in packs.values()}
    fitted, cut = _fitted(trials), _how_long(trials)
    ordered = _stiffest_first(trials)
    owned = [t for t in ordered if t.owned]
    if len(owned) == len(trials):
        names = " and ".join(t.name for t in owned)
        first = ", stiffest first" if len(owned) > 1 else ""
        opening = "Buy nothing yet: shoot" if all(t.all_owned for t in owned) else "Shoot"
        return f"{opening} the {names} you own{first}{fitted}{cut}"
    main = min(trials, key=lambda t: _place(choice, t))
    if owned:
        want = next(t for t in trials if not t.owned)
        number = "two" if want is main else "one"
        order = f"{number} {buy[want.name]}"
        return f"Shoot the {owned[0].name} you own, and buy {order} to test beside it{fitted}{cut}"
    told = _counted(trials, main, [buy[t.name] for t in trials])
    return f"{told}{fitted}{cut}"


def _stiffest_first(trials: list[Trial]) -> list[Trial]:
    return sorted(trials, key=lambda t: t.spine_mils)


def _place(choice: Choice, trial: Trial) -> int:
    """Where a trial's shaft stands in the list."""
    assert trial.build is not None
    return choice.listed.index(trial.build)


def _counted(trials: list[Trial], main: Trial, names: list[str]) -> str:
    """How many to buy: two of the main one, one of the other, stiffest first."""
    named = dict(zip([t.name for t in trials], names, strict=True))
    each = ", ".join(
        f"{'two' if t is main else 'one'} {named[t.name]}" for t in _stiffest_first(trials)
    )
    return f"Buy {_NUMBERS[len(trials) + 1]} test shafts, not a dozen: {each}"


def _fitted(trials: list[Trial]) -> str:
    """What goes up front, once where it is the same."""
    if len({t.fitted for t in trials}) == 1:
        return f", with {trials[0].fitted}"
    return ": " + ", ".join(f"{t.name} with {t.fitted}" for t in _stiffest_first(trials))


def _uncut(trials: list[Trial]) -> str:
    return f"; leave {'them' if len(trials) > 1 else 'it'} uncut"


def _how_long(trials: list[Trial]) -> str:
    """Uncut where that is safe; what is to be cut or held back first where it may not be."""
    ordered = _stiffest_first(trials)
    if all(t.uncut for t in trials):
        return _uncut(trials)
    told = ""
    for t in ordered:
        if t.uncut:
            continue
        first = f"cut it to {inches(t.length_in)} first"
        if t is ordered[0]:
            told += f"; {t.name} may be far too weak uncut: {first}"
        else:
            told += (
                f"; {t.name} uncut only after the stiffer one reads stiff or straight, else {first}"
            )
    return told


def _last_may_be_far_too_weak(choice: Choice) -> bool:
    """Whether the build shot last from the bow as it stands may be far too weak for it."""
    learned = choice.question.learned
    builds = [b for b in learned.builds if b.period == 0] if learned is not None else []
    return bool(builds) and builds[-1].far_too_weak > setting("far_too_weak_chance")


def _test_going_on(choice: Choice) -> str:
    """A clause where the shots of the bow as it stands still ask for something else first."""
    asked = choice.question
    learned = asked.learned
    if learned is None or not any(b.period == 0 for b in learned.builds):
        return ""
    # only a notebook with shots of this bow pays for the import
    from shaftwright.answers.diagnose import diagnose
    from shaftwright.errors import NoAnswer

    try:
        decision = diagnose(
            asked.rig, asked.entries, asked.stock, asked.before, asked.lines, asked.speed, asked.book,
            learned,
        ).decision  # fmt: skip
    except NoAnswer:
        return ""
    if decision.kind == "stop":
        return ""
    if decision.stop:
        return "; but draw the build shot last no further: see shaftwright bareshaft first"
    return "; first finish the test that bareshaft names"


def _smallest_pack(choice: Choice, trial: Trial) -> StockItem:
    """The same shaft in its smallest pack."""
    assert choice.candidates is not None
    assert trial.build is not None
    items = choice.candidates.items
    mine = items[trial.build.shaft_index]
    facts = shaft_facts(mine)
    twins = [i for i in items if i.kind == "shaft" and shaft_facts(i) == facts]
    return min(twins, key=lambda item: item.pack, default=mine)


def _to_order(pack: StockItem) -> str:
    """A pack's name, and a word where even it is more than a test needs."""
    return pack.item + (f" (sold by {pack.pack}: ask for singles)" if pack.pack > 3 else "")
