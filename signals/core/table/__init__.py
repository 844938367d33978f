"""The rule table: everything the controller decides, as data.

Read `facts`, `interlocks`, `calls`, `equipment`, `outputs` in that order, or `docs/rules.md`, which is
generated from them. Sorts: `sector` (the track's in driving order, then pit), `track` (without pit),
`spot` (a sector, unknown, aside), `head`, `post`, `holder` (a post or E, the equipment), `kart`,
`input`, `class`, `item`.
"""

from __future__ import annotations

from signals.core.forms import Kind, Table
from signals.core.table.calls import CALLS
from signals.core.table.equipment import EQUIPMENT, TIME
from signals.core.table.facts import DEFINITIONS, FACTS
from signals.core.table.interlocks import INTERLOCKS
from signals.core.table.outputs import CAPS, SHOWS, TIMERS

TABLE = Table(FACTS, DEFINITIONS, INTERLOCKS, (*CALLS, *EQUIPMENT, *TIME), SHOWS, CAPS, TIMERS)

CALL_WORDS = tuple(dict.fromkeys(rule.word for rule in CALLS))
"""What a person can call."""
EQUIPMENT_WORDS = tuple(rule.word for rule in EQUIPMENT)
"""What equipment does, as the controller's shell reports it."""
TIMER_WORDS = tuple(rule.word for rule in TIME)
"""What time does."""
INTERLOCK_NAMES = tuple(dict.fromkeys(interlock.name.partition("/")[0] for interlock in INTERLOCKS))
"""The names refusals carry."""

__all__ = ["CALL_WORDS", "EQUIPMENT_WORDS", "INTERLOCK_NAMES", "TABLE", "TIMER_WORDS", "Kind"]
