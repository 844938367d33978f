"""What comes next: one line from the picture, so that a newcomer can run a session unaided."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import dataclass

from signals import say
from signals.actions import BY_ID
from signals.mqtt.contract import Trip
from signals.picture import Picture
from signals.words import PIT, Phase, Verdict

SOON_S = 60.0
"""How long before the session's planned end the chequered flag comes up."""
RESET = "reset-monitor"
RESET_KEY = "F9"
ITEM = "item:"
_KEY = re.compile("⟦(.+?)⟧")
"""How a line names a key, for screens that have keys."""


@dataclass(frozen=True, slots=True)
class Hint:
    """The line, and what a touch on it does: an action's id, or `item:<id>` of the checklist.

    Keys stand in brackets of their own, so that a screen can leave them out.
    """

    line: str
    action: str = ""

    @property
    def text(self) -> str:
        """The line with its keys."""
        return _KEY.sub(r" (\1)", self.line)

    @property
    def plain(self) -> str:
        """The line for a screen that is touched."""
        return _KEY.sub("", self.line)


@dataclass(frozen=True, slots=True)
class Moment:
    """The picture, and what depends on time: whether it is lost, what is left of session and gap."""

    picture: Picture
    lost: bool = False
    trip: Trip | None = None
    left_s: float | None = None
    gap_left_s: float = 0.0


def next_step(moment: Moment) -> Hint:
    """Say what comes next; what holds the track up comes before the session's own steps."""
    phase = moment.picture.phase
    if moment.lost or phase is None:
        return Hint("Flag and radio: nothing here reaches the track")
    if moment.trip is not None and moment.trip.tripped:
        where = moment.trip.where
        return Hint(f"Next: look at what it tripped on ({where}); reset the monitor⟦{RESET_KEY}⟧", RESET)
    return _held_up(moment.picture) or _OF_PHASE[phase](moment)


def _key(action: str) -> str:
    return f"⟦{BY_ID[action].key}⟧"


def _held_up(picture: Picture) -> Hint | None:
    """Say what has to be lifted or cleared first."""
    holds, pressed = picture.holds(), picture.pressed()
    reds = [hold for hold in holds if hold.what == "stop"]
    if reds:
        more = f", {len(reds)} reds stand" if len(reds) > 1 else ""
        return Hint(f"Next: see all karts stand, then lift the red{_key('lift')}{more}", "lift")
    if pressed:
        return Hint(
            f"Next: go to kart {pressed[0]}, then reset its button{_key('button-reset')}", "button-reset"
        )
    if picture.recovering() and not holds:
        return Hint(f"Next: check the whole track, then clear{_key('clear')}", "clear")
    if holds:
        where = say.sector_name(picture.venue, holds[0].where or "")
        more = f"; {len(holds)} yellows stand" if len(holds) > 1 else ""
        return Hint(f"Next: check {where}, lift its yellow{_key('lift')}{more}", "lift")
    return None


def _out(picture: Picture) -> Hint | None:
    """Say who is still out."""
    out = picture.out()
    if not out:
        return None
    unknown = [number for number in out if (kart := picture.kart(number)) and kart.place == "unknown"]
    if unknown:
        return Hint(f"Next: find kart {unknown[0]}; seen in the pit{_key('seen')}", "seen")
    few = "1 kart is" if len(out) == 1 else f"{len(out)} karts are"
    return Hint(f"{few} still out: wait until all are in the pit")


def _closed(moment: Moment) -> Hint:
    return _out(moment.picture) or Hint(f"Next: bring a group in{_key('group-in')}", "group-in")


def _staging(moment: Moment) -> Hint:
    picture = moment.picture
    for item in picture.venue.checklist:
        if item.id in picture.open_items():
            text = f"{item.text[0].lower()}{item.text[1:]}"
            return Hint(f"Next: confirm: {text}⟦{item.key}⟧", ITEM + item.id)
    if not picture.members():
        return Hint(f"Next: bring a group in{_key('group-in')}", "group-in")
    return _out(picture) or Hint(f"Next: everyone set? Ready{_key('ready')}{_restricted(picture)}", "ready")


def _armed(moment: Moment) -> Hint:
    return Hint(f"Next: start the session{_key('start')}{_restricted(moment.picture)}", "start")


def _restricted(picture: Picture) -> str:
    """Say with what restriction the track was opened: it stands beside every ready."""
    opening = picture.group.opening if picture.group else None
    if opening is None or opening.verdict is not Verdict.OPEN_RESTRICTED or not opening.restriction:
        return ""
    return f". Restricted: {opening.restriction}"


def _racing(moment: Moment) -> Hint:
    picture, left_s = moment.picture, moment.left_s
    left = "" if left_s is None or left_s <= 0 else f", {int(left_s) // 60}:{int(left_s) % 60:02d} left"
    if left_s is not None and left_s < SOON_S:
        return Hint(f"Next: end the session, chequered{_key('chequered')}{left}", "chequered")
    inside = picture.waiting()
    if inside:
        gap_s = math.ceil(moment.gap_left_s)
        if gap_s > 0:
            return Hint(f"Next: kart {inside[0]}, once the gap is over: {gap_s} s")
        return Hint(f"Next: let out kart {inside[0]}{_key('let-out')}", "let-out")
    leaving = [
        number
        for number in picture.members()
        if (kart := picture.kart(number)) and kart.place == PIT and kart.let_out
    ]
    if leaving:
        return Hint(f"Wait: kart {leaving[0]} is leaving the pit")
    if picture.group is not None and picture.group.next is None:
        return Hint(f"All are out{left}. Next: prepare the next group{_key('group-in')}", "group-in")
    return Hint(f"Watch the track{left}")


def _finishing(moment: Moment) -> Hint:
    picture = moment.picture
    prepared = picture.group is not None and picture.group.next is not None
    home = Hint(f"All are in. Next: group in{_key('group-in')}", "group-in") if prepared else None
    still = picture.rolling()
    if still and not picture.out():
        return Hint(f"Wait: kart {still[0]} is still rolling in the pit lane")
    return (
        _out(picture)
        or home
        or Hint(f"All are in. Next: close{_key('close')}, or the next group in{_key('group-in')}", "close")
    )


def _test(_: Moment) -> Hint:
    return Hint("The lamps are lent to a test: they are given back by its owner")


_OF_PHASE: dict[Phase, Callable[[Moment], Hint]] = {
    Phase.CLOSED: _closed,
    Phase.TEST: _test,
    Phase.STAGING: _staging,
    Phase.ARMED: _armed,
    Phase.RACING: _racing,
    Phase.FINISHING: _finishing,
}
