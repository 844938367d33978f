"""The three state machines: session phase, stop latch, kart call, made from the table's moves.

A decision makes each constant move on a scratch model; nothing lives in these machines between
decisions. They know no conditions: which move applies is the table's word, that it may be made from
here is the machine's, and the two are made from the same data by different code.
"""

from __future__ import annotations

from collections.abc import Iterator

from transitions import Machine

from signals.core.expr import Schema, TableError
from signals.core.forms import Table

MACHINES = ("phase", "latch", "call")
"""The facts that only machines move."""


class _Scratch:
    state: str


class Machines:
    """Make constant moves: `move("phase", "armed", "start", 0)` gives "racing"."""

    def __init__(self, table: Table, schema: Schema) -> None:
        self._scratch = {name: _Scratch() for name in MACHINES}
        self._machines = {
            name: Machine(
                self._scratch[name],
                states=list(schema.facts[name].domain.members),
                initial=schema.facts[name].domain.members[0],
                auto_transitions=False,
                send_event=False,
            )
            for name in MACHINES
        }
        for machine, trigger, source, to in arcs(table):
            self._machines[machine].add_transition(trigger, source, to)

    def move(self, machine: str, state: str, rule: str, number: int) -> str:
        """Make one move and give where it leads; raises TableError where the machine knows no such move."""
        scratch = self._scratch[machine]
        scratch.state = state
        if not self._machines[machine].events[f"{rule}/{number}"].trigger(scratch):
            raise TableError(f"{machine} does not move from {state} by {rule}")
        return scratch.state


def arcs(table: Table) -> Iterator[tuple[str, str, str, str]]:
    """Give every arc as (machine, trigger, from, to); the diagrams are drawn from the same."""
    for rule in table.rules:
        for number, move in enumerate(rule.moves):
            machine = move.target.partition("[")[0]
            for source in move.source:
                yield machine, f"{rule.name}/{number}", source, move.to
