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
from signals.proof.nodes import Node
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
            domain = self.domain(slot.place)
            bits = (len(domain.members) - 1).bit_length()
            kind = "bool {0}" if domain is BOOL else f"unsigned {{0}} : {max(bits, 1)}"
            yield f"{kind.format(slot_name(slot))} = {self.value(slot.start, domain)};"
        outputs = [output.name for output in self.model.outputs.values()]
        yield "\n/* What a move overwrites, and what follows from the state it makes, while it is judged. */"
        yield from (f"hidden byte was_{slot_name(slot)};" for slot in self.model.program.slots)
        yield from (f"hidden byte was_{name};\nhidden byte is_{name};" for name in outputs)

    def leaf(self, node: Node) -> str:
        """Write a value; what follows from the state after a move is worked out once for all judgements."""
        place = node.args[0]
        if node.op == "after" and place in self.model.outputs:
            return f"is_{self.model.outputs[place].name}"
        return super().leaf(node)

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
        trees = [wrong.tree for wrong in wrongs if isinstance(wrong.tree, Node)]
        read = {leaf[1] for tree in trees for leaf in tree.reads if leaf[0] == "after"}
        for place, output in self.model.outputs.items():
            if place in read:
                yield f"        is_{output.name} = {output.name};"
        for wrong in wrongs:
            yield folded(f"if :: ({self.judged(wrong)}) -> {self.fail(wrong)} :: else fi;", " " * 8)
        self.outside()
        yield "    }"
