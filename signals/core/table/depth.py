"""Defence in depth: interlocks that, taken away alone, change nothing of what can be reached.

Each refuses where the rule's phases or its other interlocks refuse already: a lost head has placed a
hold and ended readiness before anybody asks. They stay, for the day another rule is changed.
`kerblight prove --mutants` falls short where this list is not what it finds. Who calls
(`not-authorised`) and whether an id is new (`id-reused`) are of the call, not of the state: no graph
tells, tests do.
"""

from __future__ import annotations

_EQUIPMENT = ("head-fault", "monitor-absent", "monitor-tripped")

DEPTH: dict[str, tuple[str, ...]] = {
    "arm": _EQUIPMENT,
    "clear": _EQUIPMENT,
    "start": (
        "caution-holds", "checklist-open", "classes-mixed", "empty-group", *_EQUIPMENT, "journal-fault",
        "kart-disqualified", "opening-check-missing", "stop-holds", "track-occupied",
    ),
    "let-out": ("journal-fault",),
    "out-of-service": ("journal-fault",),
    "swap": ("journal-fault",),
}  # fmt: skip
"""Rule -> its interlocks that another defence stands before."""
OF_THE_CALL = frozenset({"not-authorised", "id-reused"})
