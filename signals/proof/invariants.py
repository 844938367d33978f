"""What holds in every reachable state besides the properties: the strengthenings that make them inductive.

A property may hold in every state that can be reached and yet not follow from itself one step later.
Each of these says what is missing. They are written in the properties' language, are shown inductive
together with the properties' own statements on facts, and hold in every state that is explored.
"""

from __future__ import annotations

from signals.proof.properties import Clause, Property


def _invariant(name: str, says: str, *whens: str) -> Property:
    return Property(name, says, tuple(map(Clause, whens)))


INVARIANTS: tuple[Property, ...] = (
    _invariant("N1", "what the equipment holds is the equipment's kind, what a post holds never is",
            "stop[E] in (none, equipment) and all(stop[p] != equipment for p in holder if p != E)",
            "all(caution[s, E] in (none, equipment) for s in sector)"
            " and all(caution[s, p] != equipment for s in sector for p in holder if p != E)"),
    _invariant("N2", "a kart set aside is not let out",
            "all(place[k] != aside or let_out[k] == no for k in kart)"),
)  # fmt: skip
