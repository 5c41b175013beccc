"""What a launch looks like in words: where the shaft touches, when it clears, where the nock goes and why."""

from __future__ import annotations

from shaftwright.answers.launch.seen import Contact, Seen
from shaftwright.units import in_100


def sides(seen: Seen) -> tuple[str, str]:
    """Where nock and nose go as the arrow leaves, for this archer."""
    return ("right", "left") if seen.exit.turn_rate_rad_s > 0 else ("left", "right")


def agreement(seen: Seen, stiff_share: float) -> str:
    """How far guesses at what nobody measures agree with one launch about its side."""
    share = stiff_share if seen.stiff > 0 else 1 - stiff_share
    sure = "" if share >= 0.75 else ": it may as well go the other way"
    return f"{in_100(share)} guesses at what nobody measures go the same way{sure}."


def story(seen: Seen) -> list[str]:
    """Where the shaft touches, when it clears, why the nock goes where it goes."""
    away, riser = ("left", "right") if seen.side.sign > 0 else ("right", "left")
    said = []
    if not seen.contacts:
        said.append("The shaft does not touch the plate.")
    for order, contact in enumerate(seen.contacts):
        said.append(_touch(seen, contact, "again " if order else "", away))
    if seen.contacts:
        last, stop = seen.contacts[-1], seen.exit.time_ms
        if stop - last.end_ms < 0.05:
            said.append(
                f"It has not cleared the plate when the string stops, {stop:.1f} ms after release: "
                "expect contact."
            )
        else:
            said.append(
                f"It is clear of the plate for good after {last.end_ms:.1f} ms, "
                f"{stop - last.end_ms:.1f} ms before the string stops at {stop:.1f} ms."
            )
    if seen.balance_passes_ms is not None:
        said.append(
            f"The balance point, {seen.balance_in:.1f} in from the nock, passes the plate at "
            f"{seen.balance_passes_ms:.1f} ms: a push before that turns the nose {away}, one after "
            f"it turns the nose {riser}."
        )
    nock, nose = sides(seen)
    back = "the fingers' roll, the string's pull on the nock and any push behind the balance point"
    out = "the plate's push ahead of the balance point"
    if seen.stiff > 0:
        why = f"{out} turned it more than {back} turned it back, as with a shaft that bends little"
    else:
        why = f"{back} turned it more than {out}, as with a shaft that bends readily"
    said.append(f"It leaves nock {nock}, nose {nose}: {why}.")
    return said


def _touch(seen: Seen, contact: Contact, again: str, away: str) -> str:
    ahead = contact.start_in - seen.balance_in
    where = "ahead of" if ahead > 0 else "behind"
    turns = away if ahead > 0 else ("right" if away == "left" else "left")
    return (
        f"It presses the plate {again}from {contact.start_ms:.1f} to {contact.end_ms:.1f} ms, "
        f"{contact.start_in:.1f} to {contact.end_in:.1f} in from the nock, {where} the balance "
        f"point: that turns the nose {turns}."
    )
