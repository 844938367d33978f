"""Names for what a model speaks of, and its conditions and values as text: what both languages share."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from textwrap import wrap

from signals.core.expr import BOOL, Domain
from signals.proof.nodes import Node, Value, negate
from signals.proof.program import Move, Slot
from signals.proof.spoken import Spoken, Wrong

WIDTH = 110
"""Columns of a model's text."""


def slot_name(slot: Slot) -> str:
    """Give a slot's name for a checker: the fact and its index."""
    return "_".join([slot.fact, *slot.index])


def member_name(domain: Domain, member: str) -> str:
    """Give a domain's member a name that no other has."""
    return f"{domain.name}_{member}"


LONG = 40
"""Characters of a condition that deserve a name where several moves share it."""


@dataclass(frozen=True, slots=True)
class Check:
    """What several moves are judged by: its name and text, of which tree, and what those moves assign."""

    name: str
    text: str
    tree: Value
    was: frozenset[int]


class Writer(ABC):
    """Writes conditions and values of one model; a subclass says how its language spells them.

    Within a move what is assigned by it is read from `was_…`, which holds the value before.

    Attributes:
        named: conditions and outputs with a name of their own, each after those it may be made of.

    """

    AND: str
    OR: str
    NOT = "!"
    EQUAL: str
    UNEQUAL = "!="
    AT_MOST = "<="
    CHOICE: str
    TRUTHS: tuple[str, str]

    def __init__(self, model: Spoken) -> None:
        self.model = model
        self.slots = {slot.place: slot for slot in model.program.slots}
        self.named: dict[str, tuple[Node, Domain]] = {}
        self._names: dict[Value, str] = {}
        """Trees that are written by their name."""
        self._parts: list[tuple[Node, str]] = []
        """Those of them that may stand for a part of a longer conjunction or disjunction, longest first."""
        self._was: frozenset[int] = frozenset()
        self._find_names()
        self.checks: dict[tuple[str, str], Check] = {}
        """What several moves are judged by, by clause and text."""
        self._find_checks()

    # -- to be spelled by a language -----------------------------------------------------------------------

    def call(self, name: str, tree: Node) -> str:
        """Spell the use of a named tree."""
        del tree
        return name

    def indexed(self, slot: Slot, prefix: str = "") -> str:
        """Spell a slot's value."""
        return prefix + slot_name(slot)

    @abstractmethod
    def fail(self, wrong: Wrong) -> str:
        """Spell a statement that stops the checker and tells the clause."""

    # -- names --------------------------------------------------------------------------------------------

    def domain(self, place: int) -> Domain:
        """Give the domain of a slot's or an output's values."""
        if place in self.model.outputs:
            return self.model.outputs[place].domain
        return self.model.program.ground.schema.facts[self.slots[place].fact].domain

    def domains(self) -> list[Domain]:
        """Give every domain whose members have names."""
        places = (*self.slots, *self.model.outputs)
        return [domain for domain in dict.fromkeys(map(self.domain, places)) if domain is not BOOL]

    def _find_names(self) -> None:
        """Name the table's definitions that are made of several conditions, their denials, and outputs."""
        program = self.model.program
        sorts = program.ground.schema.sorts
        for made in program.ground.table.definitions:
            indices = program.ground.schema.definitions[made.name]
            for index, tree in zip(program.ground.each(indices), program.definitions[made.name], strict=True):
                if isinstance(tree, Node) and tree.op in ("and", "or") and tree not in self._names:
                    self._name("_".join([made.name, *index]), tree, sorts["bool"])
        for output in self.model.outputs.values():
            self.named[output.name] = output.tree, output.domain
        self._parts.sort(key=lambda part: -len(part[0].args))

    def _name(self, name: str, tree: Node, domain: Domain) -> None:
        self.named[name] = tree, domain
        text = self.call(name, tree)
        for known, spelled in ((tree, text), (negate(tree), f"{self.NOT}{text}")):
            assert isinstance(known, Node)  # noqa: S101 - a denial of and is or
            self._names[known] = spelled
            self._parts.append((known, spelled))

    def definition(self, name: str) -> str:
        """Write what a name stands for."""
        tree, domain = self.named[name]
        whole, parts = self._names, self._parts
        self._names = {known: text for known, text in whole.items() if known is not tree}
        self._parts = [(known, text) for known, text in parts if known is not tree]
        text = self.condition(tree) if domain is BOOL else self.value(tree, domain)
        self._names, self._parts = whole, parts
        return text

    def _find_checks(self) -> None:
        """Name what several moves are judged by in the same words, after the clause."""
        found: dict[tuple[str, str], list[tuple[Wrong, frozenset[int]]]] = {}
        for move, wrongs in self.moves():
            was = self.within(move)
            for wrong in wrongs:
                found.setdefault((wrong.label, self.condition(wrong.tree)), []).append((wrong, was))
        self.outside()
        numbers: Counter[str] = Counter()
        for (label, text), uses in found.items():
            if len(uses) > 1 and len(text) > LONG:
                numbers[label] += 1
                (wrong, was), name = uses[0], f"{label.replace('.', '_')}_{numbers[label]}"
                self.checks[label, text] = Check(name, text, wrong.tree, was)

    def moves(self) -> Iterable[tuple[Move, tuple[Wrong, ...]]]:
        """Give the moves that are written, with what they are judged by."""
        return zip(self.model.program.moves, self.model.steps, strict=True)

    def judged(self, wrong: Wrong) -> str:
        """Write what a move is judged by, by its name where others share it."""
        text = self.condition(wrong.tree)
        check = self.checks.get((wrong.label, text))
        return text if check is None else self.checked(check)

    def checked(self, check: Check) -> str:
        """Spell the use of what is judged by."""
        return check.name

    # -- conditions and values ----------------------------------------------------------------------------

    def within(self, move: Move) -> frozenset[int]:
        """Write from here on as within a move, and give what it assigns; `outside` ends it."""
        self._was = frozenset(place for place, _ in move.updates)
        return self._was

    def outside(self) -> None:
        """Write from here on as outside of moves."""
        self._was = frozenset()

    def condition(self, value: Value) -> str:
        """Write a condition."""
        if isinstance(value, int):
            return self.TRUTHS[value]
        if value in self._names and self._current(value):
            return self._names[value]
        match value.op:
            case "and" | "or":
                return f" {self.AND if value.op == 'and' else self.OR} ".join(self._members(value))
            case "not":
                return self._denied(value.args[0])
            case "eq":
                return self._compared(value, self.EQUAL)
            case "le":
                return self._compared(value, self.AT_MOST)
        return self.leaf(value)

    def value(self, value: Value, domain: Domain) -> str:
        """Write a value of a domain."""
        if isinstance(value, int):
            return self.TRUTHS[value] if domain is BOOL else member_name(domain, domain.members[value])
        if value.op == "if":
            test, yes, no = value.args
            return self.CHOICE.format(self.condition(test), self.value(yes, domain), self.value(no, domain))
        if value.op in ("slot", "after"):
            return self.leaf(value)
        if domain is BOOL:
            return f"({self.condition(value)})"
        # A choice between the first two members is a condition by now.
        return self.CHOICE.format(self.condition(value), self.value(1, domain), self.value(0, domain))

    def leaf(self, node: Node) -> str:
        """Write a value before or after a move."""
        place = node.args[0]
        if place in self.model.outputs:
            output = self.model.outputs[place]
            kept = node.op == "slot" and not self._current(output.tree)
            return f"was_{output.name}" if kept else self.call(output.name, output.tree)
        return self.indexed(self.slots[place], "was_" if node.op == "slot" and place in self._was else "")

    def kept(self, trees: Sequence[Value], was: frozenset[int] | None = None) -> tuple[list[int], list[int]]:
        """Give the slots and outputs whose values before a move that assigns `was` are read in trees."""
        was = self._was if was is None else was
        read = {
            leaf[1] for tree in trees if isinstance(tree, Node) for leaf in tree.reads if leaf[0] == "slot"
        }
        outputs = [
            p
            for p, output in self.model.outputs.items()
            if p in read and not output.tree.reads.isdisjoint(_slots(was))
        ]
        return sorted(int(place) for place in read & was), outputs

    def _current(self, tree: Node) -> bool:
        """Whether nothing that a tree reads is assigned by the present move."""
        return tree.reads.isdisjoint(_slots(self._was))

    def _members(self, value: Node) -> Iterator[str]:
        """Write the members of a conjunction or disjunction, those that have a name together by it."""
        left = dict.fromkeys(value.args)
        for known, name in self._parts:
            if known.op == value.op and left.keys() >= set(known.args) and self._current(known):
                left = {arg: None for arg in left if arg not in known.args}
                yield name
        for arg in left:
            text = self.condition(arg)
            named = arg in self._names and self._current(arg)
            yield f"({text})" if arg.op in ("and", "or") and not named else text

    def _denied(self, inner: Node) -> str:
        if inner.op == "eq":
            return self._compared(inner, self.UNEQUAL)
        return f"{self.NOT}({self.condition(inner)})"

    def _compared(self, node: Node, sign: str) -> str:
        left, right = node.args
        domain = self._spoken_of(node)
        if domain is BOOL and isinstance(right, int) and left.op in ("slot", "after"):
            return ("" if (sign == self.EQUAL) == bool(right) else self.NOT) + self.leaf(left)
        return f"{self.value(left, domain)} {sign} {self.value(right, domain)}"

    def _spoken_of(self, node: Node) -> Domain:
        """Give the domain that both sides of a comparison are of: that of any value below, the widest."""
        found = [self.domain(place) for place in _values(node)]
        return max(found, key=lambda domain: len(domain.members))


def _slots(places: Iterable[int]) -> Iterator[tuple[str, int]]:
    return (("slot", place) for place in places)


def _values(value: Value) -> Iterator[int]:
    """Give the places whose values, not their conditions, a comparison's sides take."""
    if isinstance(value, int):
        return
    if value.op in ("slot", "after"):
        yield value.args[0]
    elif value.op in ("eq", "le", "if"):
        for arg in value.args[1:] if value.op == "if" else value.args:
            yield from _values(arg)


def folded(text: str, indent: str = "", *, ending: str = "") -> str:
    """Break a long line at blanks; `ending` stands before each break."""
    lines = wrap(text, WIDTH, initial_indent=indent, subsequent_indent=indent + "    ",
                 break_long_words=False, break_on_hyphens=False)  # fmt: skip
    return f"{ending}\n".join(lines)
