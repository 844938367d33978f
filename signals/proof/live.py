"""What can be reached from everywhere: home, racing, home without a green light, or without karts' word.

A path may use permissive calls, repairs, the karts' own motion, and the restrictive calls that end
something (finish, disarm, give-back): what a crew does to get home, never luck or another fault.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from signals.core.forms import Kind
from signals.proof.nodes import Value, equal, slot
from signals.proof.program import Move
from signals.proof.properties import EMPTY, HEALTHY, NO_CAUTION, NO_STOP
from signals.proof.space import Keys
from signals.proof.states import Explorer, Found
from signals.proof.stating import Statements

HOME = (
    f"phase == closed and latch == none and {NO_STOP} and {NO_CAUTION} and {HEALTHY}"
    f" and journal == ok and {EMPTY}"
)
RACING = "phase == racing"
ENDS = ("finish", "disarm", "give-back")
TURNS_GREEN = "any(aspect[h] != green and after(aspect[h]) == green for h in head)"
SPEAKS = ("kart-at", "kart-back")
"""What a lost kart never does again; a person accounts for it instead."""


@dataclass(frozen=True, slots=True)
class Live:
    """A goal that must be within reach of every state; `needs` names a rule without which it says nothing."""

    name: str
    says: str
    goal: str
    needs: str = ""


LIVE = (
    Live("L1", "home (closed, clear, healthy) is within reach of every state", HOME),
    Live("L2", "racing is within reach of every state", RACING, needs="start"),
    Live("L3", "home is within reach with no head turning green on the way", HOME),
    Live("L4", "home is within reach though lost karts never report again", HOME, needs="account-aside"),
)


def lives(explorer: Explorer, statements: Statements, found: Found) -> Iterator[tuple[str, Keys]]:
    """Give, for every goal that applies, the states from which it is out of reach."""
    rules = {move.rule.name for move in explorer.program.moves}
    useful = [
        move
        for move in explorer.program.moves
        if move.rule.kind in (Kind.PERMISSIVE, Kind.REPAIR, Kind.WORLD) or move.rule.name in ENDS
    ]
    home_without_green = False
    for live in LIVE:
        if live.needs and live.needs not in rules:
            continue
        if live.name == "L1":
            # L3 asks for more; only where it fails is L1 looked at by itself.
            home_without_green = not len(_stuck(explorer, statements, found, LIVE[2], useful))
        if live.name in ("L1", "L3") and home_without_green:
            yield live.name, found.levels[0][:0]
        else:
            yield live.name, _stuck(explorer, statements, found, live, useful)


def _stuck(explorer: Explorer, statements: Statements, found: Found, live: Live, useful: list[Move]) -> Keys:
    ways = [(move, _barred(live, statements, move)) for move in useful]
    return explorer.stuck(found, statements.condition(live.goal), [way for way in ways if way[1] != 1])


def _barred(live: Live, statements: Statements, move: Move) -> Value:
    """Give where a path to a goal may not take a move."""
    if live.name == "L3":
        return statements.after(TURNS_GREEN, move)
    if live.name == "L4" and move.rule.name in SPEAKS:
        ground = statements.program.ground
        place = ground.index("place", move.names["kart"])
        unknown = ground.schema.facts["place"].domain.members.index("unknown")
        return statements.program.fold(equal(slot(place), unknown))
    return 0
