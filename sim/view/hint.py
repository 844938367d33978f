"""What comes next: one line from the state and the group, so that a newcomer can run a session unaided."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from signals import say
from signals.words import PIT, Phase
from sim.view.desk import Desk

SOON_S = 60.0
"""How long before the session's planned end the chequered flag comes up."""


@dataclass(frozen=True, slots=True)
class Hint:
    """The line, and what a click on it does: an action's id, or `item:<id>` of the checklist."""

    text: str
    action: str = ""


def next_step(desk: Desk, now_s: float) -> Hint:
    """Say what comes next; what holds the track up comes before the session's own steps."""
    state = desk.state
    if desk.lost(now_s) or state is None:
        return Hint("Flag and radio: nothing here reaches the track")
    if desk.trip is not None and desk.trip.tripped:
        return Hint(
            f"Next: look at what it tripped on ({desk.trip.where}); reset the monitor (F9)", "reset-monitor"
        )
    return _held_up(desk) or _OF_PHASE[state.phase](desk, now_s)


def _held_up(desk: Desk) -> Hint | None:
    """Say what has to be lifted or cleared first."""
    holds = desk.holds()
    reds = [hold for hold in holds if hold.what == "stop"]
    if reds:
        more = f", {len(reds)} reds stand" if len(reds) > 1 else ""
        return Hint(f"Next: see all karts stand, then lift the red (L){more}", "lift")
    pressed = [number for number, kart in desk.state.karts.items() if kart.button] if desk.state else []
    if pressed:
        return Hint(f"Next: go to kart {pressed[0]}, then reset its button (I)", "button-reset")
    if desk.recovering() and not holds:
        return Hint("Next: check the whole track, then clear (C)", "clear")
    if holds:
        where = say.sector_name(desk.venue, holds[0].where or "")
        more = f"; {len(holds)} yellows stand" if len(holds) > 1 else ""
        return Hint(f"Next: check {where}, lift its yellow (L){more}", "lift")
    return None


def _out(desk: Desk) -> Hint | None:
    """Say who is still out."""
    out = desk.out()
    if not out:
        return None
    unknown = [number for number in out if (kart := desk.kart(number)) and kart.place == "unknown"]
    if unknown:
        return Hint(f"Next: find kart {unknown[0]}; seen in the pit (V)", "seen")
    few = "1 kart is" if len(out) == 1 else f"{len(out)} karts are"
    return Hint(f"{few} still out: wait until all are in the pit")


def _closed(desk: Desk, _: float) -> Hint:
    return _out(desk) or Hint("Next: bring a group in (G)", "group-in")


def _staging(desk: Desk, _: float) -> Hint:
    for item in desk.venue.checklist:
        if item.id in desk.open_items():
            return Hint(
                f"Next: confirm: {item.text[0].lower()}{item.text[1:]} ({item.key})", f"item:{item.id}"
            )
    if not desk.members():
        return Hint("Next: bring a group in (G)", "group-in")
    return _out(desk) or Hint("Next: everyone set? Ready (A)", "ready")


def _armed(_: Desk, __: float) -> Hint:
    return Hint("Next: start the session (S)", "start")


def waiting(desk: Desk) -> tuple[int, ...]:
    """Give the karts of the group that wait in the pit to be let out; only while the session runs."""
    if desk.state is None or desk.state.phase is not Phase.RACING:
        return ()
    return tuple(
        number
        for number in desk.members()
        if (kart := desk.kart(number))
        and kart.place == PIT
        and not kart.let_out
        and kart.call != "disqualified"
    )


def rolling(desk: Desk) -> tuple[int, ...]:
    """Give the karts that still roll in the pit lane, on their way to the box."""
    karts = desk.state.karts.items() if desk.state else ()
    return tuple(sorted(int(number) for number, kart in karts if kart.place == PIT and kart.let_out))


def _racing(desk: Desk, now_s: float) -> Hint:
    left_s = desk.left_s()
    left = "" if left_s is None or left_s <= 0 else f", {int(left_s) // 60}:{int(left_s) % 60:02d} left"
    if left_s is not None and left_s < SOON_S:
        return Hint(f"Next: end the session, chequered (F){left}", "chequered")
    inside = waiting(desk)
    if inside:
        gap_s = math.ceil(desk.gap_left_s(now_s))
        if gap_s > 0:
            return Hint(f"Next: kart {inside[0]}, once the gap is over: {gap_s} s")
        return Hint(f"Next: let out kart {inside[0]} (O)", "let-out")
    leaving = [
        number
        for number in desk.members()
        if (kart := desk.kart(number)) and kart.place == PIT and kart.let_out
    ]
    if leaving:
        return Hint(f"Wait: kart {leaving[0]} is leaving the pit")
    if desk.group is not None and desk.group.next is None:
        return Hint(f"All are out{left}. Next: prepare the next group (G)", "group-in")
    return Hint(f"Watch the track{left}")


def _finishing(desk: Desk, _: float) -> Hint:
    prepared = desk.group is not None and desk.group.next is not None
    home = Hint("All are in. Next: group in (G)", "group-in") if prepared else None
    still = rolling(desk)
    if still and not desk.out():
        return Hint(f"Wait: kart {still[0]} is still rolling in the pit lane")
    return _out(desk) or home or Hint("All are in. Next: close (X), or the next group in (G)", "close")


def _test(_: Desk, __: float) -> Hint:
    return Hint("The lamps are lent to a test: they are given back by its owner")


_OF_PHASE: dict[Phase, Callable[[Desk, float], Hint]] = {
    Phase.CLOSED: _closed,
    Phase.TEST: _test,
    Phase.STAGING: _staging,
    Phase.ARMED: _armed,
    Phase.RACING: _racing,
    Phase.FINISHING: _finishing,
}
