"""What can be reached from everywhere: home, racing, home without a green light, or without karts' word.

A path may use permissive calls, repairs, the karts' own motion, and the restrictive calls that end
something (finish, disarm, give-back): what a crew does to get home, never luck or another fault.

Home is shown to be within reach by a rank, the number of things that are still to be done: if in every
state some move lowers it, a path home exists, for a rank cannot fall for ever. Where a rank does not
fall, paths are looked for one by one.
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

CALM = f"latch == none and {NO_STOP} and {NO_CAUTION} and {HEALTHY} and journal == ok and {EMPTY}"
HOME = f"phase == closed and {CALM}"
RACING = f"phase == racing and {CALM}"
ENDS = ("finish", "disarm", "give-back")
TURNS_GREEN = "any(aspect[h] != green and after(aspect[h]) == green for h in head)"
SPEAKS = ("kart-at", "kart-back")
"""What a lost kart never does again; a person accounts for it instead."""
RANK: tuple[tuple[str, dict[str, str]], ...] = (
    ("phase != closed", {}),
    ("phase in (armed, racing, finishing)", {}),
    ("phase == racing", {}),
    ("latch != none", {}),
    ("stop[p] != none", {"p": "holder"}),
    ("caution[s, p] != none", {"s": "sector", "p": "holder"}),
    ("head[h] == lost", {"h": "head"}),
    ("monitor != ok", {}),
    ("journal != ok", {}),
    ("place[k] not in (pit, aside)", {"k": "kart"}),
    ("button[k]", {"k": "kart"}),
    ("input[i] != normal", {"i": "input"}),
)
"""What is still to be done before home, one each."""


@dataclass(frozen=True, slots=True)
class Live:
    """A goal that must be within reach of every state; `needs` names a rule without which it says nothing."""

    name: str
    says: str
    needs: str = ""


LIVE = (
    Live("L1", "home (closed, clear, healthy) is within reach of every state"),
    Live("L2", "racing is within reach of every state", needs="start"),
    Live("L3", "home is within reach with no head turning green on the way"),
    Live("L4", "home is within reach though lost karts never report again", needs="account-aside"),
)


def lives(explorer: Explorer, statements: Statements, found: Found) -> Iterator[tuple[str, Keys]]:
    """Give, for every goal that applies, the states from which it is out of reach."""
    rules = {move.rule.name for move in explorer.program.moves}
    judge = _Judge(explorer, statements, found)
    dark = judge.stuck_away_from_home("L3")
    for live in LIVE:
        if live.needs and live.needs not in rules:
            continue
        match live.name:
            case "L1":
                # L3 asks for more; only where it fails is L1 looked at by itself.
                yield live.name, judge.stuck_away_from_home("L1") if len(dark) else dark
            case "L2":
                yield live.name, judge.never_racing(home_in_reach=not len(dark))
            case "L3":
                yield live.name, dark
            case _:
                yield live.name, judge.stuck_away_from_home(live.name)


class _Judge:
    """Asks for one exploration's paths."""

    def __init__(self, explorer: Explorer, statements: Statements, found: Found) -> None:
        self._explorer = explorer
        self._statements = statements
        self._keys = found.keys
        self._home = statements.condition(HOME)
        self._useful = [
            move
            for move in explorer.program.moves
            if move.rule.kind in (Kind.PERMISSIVE, Kind.REPAIR, Kind.WORLD) or move.rule.name in ENDS
        ]

    def stuck_away_from_home(self, goal: str) -> Keys:
        """Give the states from which home is out of reach, under a goal's own bars."""
        ways = [(move, bar) for move in self._useful if (bar := self._barred(goal, move)) != 1]
        ranked = [(move, bar, list(self._changes(move))) for move, bar in ways]
        rest = self._explorer.unranked(self._keys, self._home, ranked)
        if not len(rest):
            return rest
        # The rank does not fall everywhere: look for paths, from what the rank leaves open and around it.
        return self._explorer.stuck(self._keys, self._home, ways)

    def never_racing(self, *, home_in_reach: bool) -> Keys:
        """Give the states from which racing is out of reach; by way of home, calm ones tell for all."""
        keys = self._keys
        if home_in_reach:
            keys = self._explorer.where(keys, self._statements.condition(CALM))
        return self._explorer.stuck(keys, self._statements.condition(RACING), [(m, 0) for m in self._useful])

    def _barred(self, goal: str, move: Move) -> Value:
        """Give where a path to a goal may not take a move."""
        if goal == "L3":
            return self._statements.after(TURNS_GREEN, move)
        if goal == "L4" and move.rule.name in SPEAKS:
            ground = self._statements.program.ground
            place = ground.index("place", move.names["kart"])
            unknown = ground.schema.facts["place"].domain.members.index("unknown")
            return self._statements.program.fold(equal(slot(place), unknown))
        return 0

    def _changes(self, move: Move) -> Iterator[tuple[Value, Value]]:
        """Give the terms of the rank that a move changes, before and after."""
        for text, over in RANK:
            if text.partition("[")[0] in self._explorer.program.scope.inputs:
                continue
            for env, before in self._statements.each(text, over):
                after = self._statements.after(f"after({text})", move, env)
                if after is not before and after != before:
                    yield before, after
