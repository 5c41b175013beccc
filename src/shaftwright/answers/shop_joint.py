"""Two questions of one archer: what they share of the doubt, and the test kit of an arrow for both."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from shaftwright.answers.scenario import Scenario
from shaftwright.answers.shop_draws import is_prior, shared_out, two_sets
from shaftwright.answers.shop_kit import KitQuestion, kit_question
from shaftwright.inference.belief import Belief, prior_belief
from shaftwright.inference.evidence_rules import evidence_rules
from shaftwright.inference.rig_facts import shortest_safe_length_in
from shaftwright.records.stock import Stock

_SEED = 20_260_303


def paired(first: Scenario, second: Scenario) -> tuple[Scenario, Scenario]:
    """Both questions on draws that belong together: archer and rules shared, each bow's own doubt apart.

    Parameters
    ----------
    first, second : Scenario
        Two rigs, or one rig with two purposes.

    Returns
    -------
    tuple of Scenario
        Where only one has shots, what they taught of archer and rules counts for the other too.
        Two purposes of one rig with one notebook take the first one's draws, drawn as they were with
        sizes told for another arrow. Where both have shots of their own, each keeps what they
        taught, and what is left of their doubts is taken as independent.
    """
    if second.belief.learned and not first.belief.learned:
        second, first = paired(second, first)
        return first, second
    if first.rig.bow == second.rig.bow:
        learned = first.belief.learned and not second.belief.learned
        same = learned or _same_shots(first, second)
        return first, replace(second, given=first.belief) if same else second
    if second.belief.learned:
        return first, second
    return first, replace(second, given=_other_bow(first.belief, second))


def _same_shots(first: Scenario, second: Scenario) -> bool:
    """Whether both have learned from the same readings of one rig."""
    if first.learned is None or second.learned is None or first.rig != second.rig:
        return False
    one, two = ([r.entry for r in q.learned.readings] for q in (first, second) if q.learned)
    return one == two


def _other_bow(belief: Belief, other: Scenario) -> Belief:
    """A belief with what is particular to one bow drawn anew."""
    anew = evidence_rules().anew
    prior = prior_belief(other.book).scores
    scores, random = dict(belief.scores), np.random.default_rng(_SEED)
    for code in (*anew.any_change, *anew.limbs):
        if code in scores:
            fresh = np.resize(prior[code], belief.size) if belief.learned else scores[code]
            scores[code] = random.permutation(fresh)
    return Belief(scores, belief.learned)


def needs_longer(both: tuple[Scenario, Scenario]) -> Scenario:
    """The one of two questions that needs the longer shaft; the first of equals."""
    return max(both, key=lambda q: shortest_safe_length_in(q.rig, q.purpose_rule))


def joint_question(first: Scenario, second: Scenario, stock: Stock, each: int | None = None,
                   purpose_mass: bool = True) -> KitQuestion:  # fmt: skip
    """The test kit of an arrow that must be tuned for both.

    Parameters
    ----------
    first, second : Scenario
        As `paired` leaves them.
    stock : Stock
        What could be bought and what is owned.
    each : int, optional
        Test shafts of each kind; rules/shopping.yaml by default.
    purpose_mass : bool
        Whether arrows lighter than a purpose's range count as tuned.

    Returns
    -------
    KitQuestion
        Asked of the one that needs the longer shaft; its `others` hold the other.
    """
    if is_prior(first):
        sets = two_sets(first)
        same = first.rig.bow == second.rig.bow
        of_second = (second.belief, sets[1] if same else _other_bow(sets[1], second))
    else:
        sets, of_second = shared_out(first.belief), shared_out(second.belief)
    pairs = [(first, sets), (second, of_second)]
    (asked, own), other = pairs if needs_longer((first, second)) is first else pairs[::-1]
    return kit_question(asked, stock, each, purpose_mass, own, (other,))
