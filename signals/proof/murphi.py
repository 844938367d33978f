"""A program as a Murphi model, for rumur.

One rule a move. It keeps what it will overwrite, assigns, and is then judged by old and new values.
What no state may be is a rule too, open only where the property is broken: rumur asks invariants of
every state that is met, once a move, but rules once a state.
"""

from __future__ import annotations

from collections.abc import Iterator

from signals.core.expr import BOOL, Domain
from signals.proof.nodes import Node, Value
from signals.proof.program import Move
from signals.proof.spoken import Spoken, Wrong
from signals.proof.writer import Check, Writer, folded, member_name, slot_name


def murphi(model: Spoken, title: str) -> str:
    """Write the model; `title` says what it is of."""
    return "\n".join(Murphi(model).lines(title)) + "\n"


class Murphi(Writer):
    """Writes the model of one program; the hooks are for karts that have no names."""

    AND, OR, EQUAL = "&", "|", "="
    CHOICE = "({0} ? {1} : {2})"
    TRUTHS = ("false", "true")

    def call(self, name: str, tree: Node) -> str:
        """Spell the use of a function."""
        return self.called(name, tree, ", ", "")

    def called(self, name: str, tree: Node, between: str, typed: str) -> str:
        """Spell a function's name with what it is given: nothing."""
        del tree, between, typed
        return f"{name}()"

    def fail(self, wrong: Wrong) -> str:
        """Spell a statement that ends the check and names the clause."""
        return f'error "{wrong.label}"'

    def lines(self, title: str) -> Iterator[str]:
        """Give the model line by line."""
        yield f"-- {title}. Made from the rule table by `kerblight`; do not edit."
        yield "\nconst"
        for domain in self.domains():
            yield from (f"  {member_name(domain, m)}: {number};" for number, m in enumerate(domain.members))
        yield "\ntype"
        yield from self.types()
        yield "\nvar"
        yield from self.variables()
        for name, (tree, domain) in self.named.items():
            yield f"\nfunction {self.called(name, tree, '; ', ': kart')}: {kind(domain)}; begin"
            yield folded(f"return {self.definition(name)};", "  ")
            yield "end;"
        for check in self.checks.values():
            given = "; ".join(f"{name}: {kept}" for name, kept in self._given(check))
            yield f"\nfunction {check.name}({given}): boolean; begin"
            yield folded(f"return {check.text};", "  ")
            yield "end;"
        yield "\nstartstate begin"
        yield from self.start()
        yield "end;"
        for wrong in self.model.states:
            open_where = self.bound(self.condition(wrong.tree), wrong.tree)
            yield folded(f'\nrule "{wrong.label}" {open_where} ==> begin {self.fail(wrong)}; end;')
        for move, wrongs in self.moves():
            yield ""
            yield from self.move(move, wrongs)

    def types(self) -> Iterator[str]:
        """Declare a type for every domain."""
        for domain in self.domains():
            yield f"  {kind(domain)}: 0 .. {len(domain.members) - 1};"

    def variables(self) -> Iterator[str]:
        """Declare the state."""
        for slot in self.model.program.slots:
            yield f"  {slot_name(slot)}: {kind(self.domain(slot.place))};"

    def start(self) -> Iterator[str]:
        """Assign the first state."""
        for slot in self.model.program.slots:
            yield f"  {slot_name(slot)} := {self.value(slot.start, self.domain(slot.place))};"

    def checked(self, check: Check) -> str:
        """Spell the use of a function of what was."""
        return f"{check.name}({', '.join(name for name, _ in self._given(check))})"

    def _given(self, check: Check) -> list[tuple[str, str]]:
        """Give the names and types of what a judgement must be told: it reads the state after by itself."""
        slots, outputs = self.kept([check.tree], check.was)
        named = [(f"was_{self.variable(place)}", self.type_of(place)) for place in slots]
        named += [(f"was_{o.name}", kind(o.domain)) for o in map(self.model.outputs.__getitem__, outputs)]
        return [*self.unnamed(check.tree), *dict.fromkeys(named)]

    def unnamed(self, tree: Value) -> list[tuple[str, str]]:
        """Give the names and types of what is bound around a judgement."""
        del tree
        return []

    def bound(self, text: str, tree: Value) -> str:
        """Bind what a condition speaks of without naming it."""
        del tree
        return text

    def move(self, move: Move, wrongs: tuple[Wrong, ...]) -> Iterator[str]:
        """Write a move's rule."""
        yield folded(f'rule "{move.name}" {self.condition(move.guard)} ==>')
        declared, lines = self.body(move, wrongs)
        yield from (f"  var {line}" for line in declared)
        yield "begin"
        yield from lines
        yield "end;"

    def body(self, move: Move, wrongs: tuple[Wrong, ...]) -> tuple[list[str], list[str]]:
        """Give what a move keeps, as declarations, and its statements."""
        self.within(move)
        slots, outputs = self.kept([*(value for _, value in move.updates), *(wrong.tree for wrong in wrongs)])
        lines = [f"  was_{name} := {name};" for name in dict.fromkeys(self.variable(p) for p in slots)]
        declared = list(dict.fromkeys(f"was_{self.variable(p)}: {self.type_of(p)};" for p in slots))
        for output in map(self.model.outputs.__getitem__, outputs):
            lines.append(f"  was_{output.name} := {self.call(output.name, output.tree)};")
            declared.append(f"was_{output.name}: {kind(output.domain)};")
        for place, value in move.updates:
            assigned = f"{self.indexed(self.slots[place])} := {self.value(value, self.domain(place))};"
            lines.append(folded(assigned, "  "))
        judged = (f"if {self.judged(wrong)} then {self.fail(wrong)}; end;" for wrong in wrongs)
        lines += [folded(line, "  ") for line in judged]
        self.outside()
        return declared, lines

    def variable(self, place: int) -> str:
        """Give the name of the variable that a slot is in."""
        return slot_name(self.slots[place])

    def type_of(self, place: int) -> str:
        """Give that variable's type."""
        return kind(self.domain(place))


def kind(domain: Domain) -> str:
    """Give the name of a domain's type."""
    return "boolean" if domain is BOOL else f"{domain.name}_t"
