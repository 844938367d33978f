"""A program as a Promela model, for SPIN.

One process, one loop, one option a move: a `d_step`, so that SPIN stores nothing between the states
before and after. A move keeps what it will overwrite in hidden variables (they are no part of a
state), assigns, and is then judged by old and new values. What no state may be is an option too, open
only where the property is broken, so that it is asked once a state rather than once a move.
`assert(7 == 0)` names the seventh clause of the list on top of the model.

SPIN counts the first state as a transition; every other is a move.
"""

from __future__ import annotations

from collections.abc import Iterator

from signals.core.expr import BOOL
from signals.proof.program import Move
from signals.proof.spoken import Spoken, Wrong
from signals.proof.writer import Writer, folded, member_name, slot_name


def promela(model: Spoken, title: str) -> str:
    """Write the model; `title` says what it is of."""
    return "\n".join(_Promela(model).lines(title)) + "\n"


class _Promela(Writer):
    AND, OR, EQUAL = "&&", "||", "=="
    CHOICE = "({0} -> {1} : {2})"
    TRUTHS = ("0", "1")

    def __init__(self, model: Spoken) -> None:
        super().__init__(model)
        self._numbers = {label: number for number, label in enumerate(model.labels, 1)}

    def fail(self, wrong: Wrong) -> str:
        return f"assert({self._numbers[wrong.label]} == 0)"

    def lines(self, title: str) -> Iterator[str]:
        """Give the model line by line."""
        yield f"/* {title}. Made from the rule table by `kerblight`; do not edit."
        yield "   The clauses of properties, by number:"
        yield folded(", ".join(f"{number} {label}" for label, number in self._numbers.items()) + " */", "   ")
        yield from self._constants()
        yield from self._variables()
        yield ""
        for name in self.named:
            yield folded(f"#define {name} ({self.definition(name)})", ending=" \\")
        for check in self.checks.values():
            yield folded(f"#define {check.name} ({check.text})", ending=" \\")
        yield "\nactive proctype controller()\n{\n    do"
        for wrong in self.model.states:
            yield folded(f":: d_step {{ ({self.condition(wrong.tree)}) -> {self.fail(wrong)} }}", "    ")
        for move, wrongs in self.moves():
            yield from self._move(move, wrongs)
        yield "    od\n}"

    def _constants(self) -> Iterator[str]:
        for domain in self.domains():
            yield ""
            for number, member in enumerate(domain.members):
                yield f"#define {member_name(domain, member)} {number}"

    def _variables(self) -> Iterator[str]:
        yield ""
        for slot in self.model.program.slots:
            kind = "bool" if self.domain(slot.place) is BOOL else "byte"
            yield f"{kind} {slot_name(slot)} = {self.value(slot.start, self.domain(slot.place))};"
        yield "\n/* What a move overwrites, while it is made. */"
        for name in (
            *map(slot_name, self.model.program.slots),
            *(o.name for o in self.model.outputs.values()),
        ):
            yield f"hidden byte was_{name};"

    def _move(self, move: Move, wrongs: tuple[Wrong, ...]) -> Iterator[str]:
        yield folded(f":: d_step {{ ({self.condition(move.guard)}) ->", "    ")
        yield f'        printf("{move.name}\\n");'
        self.within(move)
        slots, outputs = self.kept([*(value for _, value in move.updates), *(wrong.tree for wrong in wrongs)])
        for name in (
            *(slot_name(self.slots[p]) for p in slots),
            *(self.model.outputs[p].name for p in outputs),
        ):
            yield f"        was_{name} = {name};"
        for place, value in move.updates:
            yield folded(
                f"{slot_name(self.slots[place])} = {self.value(value, self.domain(place))};", " " * 8
            )
        for wrong in wrongs:
            yield folded(f"if :: ({self.judged(wrong)}) -> {self.fail(wrong)} :: else fi;", " " * 8)
        self.outside()
        yield "    }"
