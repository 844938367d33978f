"""The Murphi model with karts that can't be named: a scalarset, so that rumur counts an orbit as one state.

`k1` and `k2` stand for any two different karts. A move that singles a kart out is a rule of a ruleset
over it; karts that it treats alike are bound within its guard and its body, where every way of binding
them gives the same. So a ruleset has as many instances as the program has moves that are images of each
other. In every state of an orbit equally many moves are open, so the rules fired are the explorer's
transitions, counted from one state of each orbit.

Only karts: a post is a holder beside the equipment, and heads and the pit exit tell sectors apart.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from itertools import permutations
from math import factorial

from signals.errors import Unusable
from signals.proof.murphi import Murphi
from signals.proof.nodes import LEAVES, Node, Value, rebuild, slot
from signals.proof.program import Move, Slot
from signals.proof.spoken import Spoken, Wrong
from signals.proof.writer import folded

Order = tuple[int, ...]
"""Where each kart goes."""
Signature = tuple[object, ...]
"""What a move does, however it is written."""


def murphi_with_symmetry(model: Spoken, title: str) -> str:
    """Write the model; `title` says what it is of.

    Raises:
        Unusable: karts can be told apart, or a move treats them in a way that a ruleset can't tell.

    """
    return "\n".join(_Karts(model).lines(title)) + "\n"


class _Karts(Murphi):
    def __init__(self, model: Spoken) -> None:
        self._swaps = _Swaps(model)
        super().__init__(model)

    # -- names: a kart's slots are arrays over karts ---------------------------------------------------------

    def types(self) -> Iterator[str]:
        """Declare the karts beside the other types."""
        yield f"  kart: scalarset({self._swaps.count});"
        yield from super().types()

    def called(self, name: str, tree: Node, between: str, typed: str) -> str:
        """Spell a function's name with the karts it speaks of."""
        return f"{name}({between.join(f'{kart}{typed}' for kart in _names(self._swaps.karts_in(tree)))})"

    def indexed(self, slot: Slot, prefix: str = "") -> str:
        """Spell a slot; a kart's is in an array."""
        number = self._swaps.kart_of.get(slot.place)
        name = prefix + self.variable(slot.place)
        return name if number is None else f"{name}[{_name(number)}]"

    def variable(self, place: int) -> str:
        """Leave the kart out of a variable's name."""
        found = self.slots[place]
        over = self.model.program.ground.schema.facts[found.fact].over
        rest = (member for sort, member in zip(over, found.index, strict=True) if sort.name != "kart")
        return "_".join([found.fact, *rest])

    def type_of(self, place: int) -> str:
        """Give an array for what every kart has."""
        own = super().type_of(place)
        return f"array [kart] of {own}" if place in self._swaps.kart_of else own

    def variables(self) -> Iterator[str]:
        """Declare the state."""
        return iter(
            dict.fromkeys(f"  {self.variable(place)}: {self.type_of(place)};" for place in self.slots)
        )

    def start(self) -> Iterator[str]:
        """Assign the first state, the same for every kart."""
        for place, made in self.slots.items():
            assigned = f"{self.indexed(made)} := {self.value(made.start, self.domain(place))};"
            if self._swaps.kart_of.get(place, 0) == 0:
                loop = f"for {_name(0)}: kart do {assigned} end;"
                yield f"  {loop if place in self._swaps.kart_of else assigned}"

    # -- rules -----------------------------------------------------------------------------------------------

    def unnamed(self, tree: Value) -> list[tuple[str, str]]:
        """Give the karts that a judgement speaks of."""
        return [(kart, "kart") for kart in _names(self._swaps.karts_in(tree))]

    def bound(self, text: str, tree: Value) -> str:
        """Ask for any karts."""
        return _exists(text, self._swaps.karts_in(tree), ())

    def moves(self) -> Iterator[tuple[Move, tuple[Wrong, ...]]]:
        """Give one of all moves that are images of each other."""
        numbers = self._swaps.rulesets()
        return ((self.model.program.moves[number], self.model.steps[number]) for number in numbers)

    def move(self, move: Move, wrongs: tuple[Wrong, ...]) -> Iterator[str]:
        """Write a ruleset for a move and its images."""
        outer, inner = self._swaps.told_apart(move)
        if outer:
            yield f"ruleset {'; '.join(f'{name}: kart' for name in _names(outer))} do"
        guard = _exists(
            self.condition(move.guard), [k for k in inner if k in self._swaps.karts_in(move.guard)], outer
        )
        yield folded(f'rule "{move.name}" {_different(outer, ())}({guard}) ==>')
        declared, lines = self.body(move, wrongs)
        yield from (f"  var {line}" for line in (*declared, "made: boolean;"))
        yield "begin\n  made := false;"
        for name in _names(inner):
            yield f"  for {name}: kart do"
        yield f"  if {_different(inner, outer)}!made then\n  made := true;"
        yield from lines
        yield "  end;" + " end;" * len(inner)
        yield "end;" + (" end;" if outer else "")


def _name(number: int) -> str:
    return f"k{number + 1}"


def _names(numbers: Iterable[int]) -> list[str]:
    return [_name(number) for number in numbers]


def _exists(text: str, inner: Sequence[int], outer: Sequence[int]) -> str:
    opened = " ".join(f"exists {name}: kart do" for name in _names(inner))
    return f"{opened} {_different(inner, outer)}({text}){' end' * len(inner)}" if inner else text


def _different(inner: Sequence[int], outer: Sequence[int]) -> str:
    names, others = _names(inner), _names(outer)
    pairs = ((a, b) for n, a in enumerate(names) for b in (*others, *names[:n]))
    return "".join(f"{a} != {b} & " for a, b in pairs)


class _Swaps:
    """What becomes of moves when karts change places.

    Attributes:
        count: how many karts there are.
        kart_of: for the place of a kart's slot, which kart's it is.

    """

    def __init__(self, model: Spoken) -> None:
        program = model.program
        self._model = model
        self._karts = program.ground.schema.sorts["kart"].members
        self.count = len(self._karts)
        self.kart_of = {slot.place: kart for slot in program.slots if (kart := self._kart(slot)) is not None}
        self._at = {(slot.fact, slot.index): slot.place for slot in program.slots}
        self._orders = list(permutations(range(self.count)))
        self._shapes: dict[object, int] = {}
        self._starts_alike()

    def _kart(self, slot: Slot) -> int | None:
        over = self._model.program.ground.schema.facts[slot.fact].over
        found = [
            self._karts.index(m) for sort, m in zip(over, slot.index, strict=True) if sort.name == "kart"
        ]
        return found[0] if found else None

    def karts_in(self, tree: Value) -> Sequence[int]:
        """Give all karts where a tree speaks of any: it names them by their difference."""
        if isinstance(tree, int):
            return ()
        read = {leaf[1] for leaf in tree.reads}
        outputs = (output.tree for place, output in self._model.outputs.items() if place in read)
        some = any(place in self.kart_of for place in read) or any(self.karts_in(inner) for inner in outputs)
        return range(self.count) if some else ()

    def _starts_alike(self) -> None:
        slots = {slot.place: slot for slot in self._model.program.slots}
        for order in self._orders:
            for place, own in slots.items():
                moved = slots.get(self._moved(place, order))
                if moved is None or moved.start != own.start:
                    raise Unusable(
                        f"karts can be told apart: {own.name} does not start, or is not kept, for all alike"
                    )

    def _moved(self, place: int, order: Order) -> int:
        if place not in self.kart_of:
            return place
        slot = next(slot for slot in self._model.program.slots if slot.place == place)
        over = self._model.program.ground.schema.facts[slot.fact].over
        index = tuple(
            self._karts[order[self._karts.index(member)]] if sort.name == "kart" else member
            for sort, member in zip(over, slot.index, strict=True)
        )
        return self._at.get((slot.fact, index), -1)

    # -- images of moves ----------------------------------------------------------------------------------

    def rulesets(self) -> list[int]:
        """Give the numbers of the moves that stand for all their images."""
        moves = self._model.program.moves
        signatures = [self._signature(move, self._orders[0]) for move in moves]
        counts = Counter(signatures)
        chosen: list[int] = []
        seen: set[Signature] = set()
        for number, move in enumerate(moves):
            images = {self._signature(move, order) for order in self._orders}
            if signatures[number] not in seen and seen & images:
                continue
            if any(counts[image] != counts[signatures[number]] for image in images):
                raise Unusable(f"karts can be told apart: {move.name} has no like for every kart")
            seen.add(signatures[number])
            chosen.append(number)
        return chosen

    def told_apart(self, move: Move) -> tuple[list[int], list[int]]:
        """Give the karts that a move singles out, and those that it treats alike."""
        own = self._signature(move, self._orders[0])
        alike: list[list[int]] = []
        for kart in range(self.count):
            block = next((b for b in alike if self._signature(move, self._swap(b[0], kart)) == own), None)
            if block is None:
                alike.append([kart])
            else:
                block.append(kart)
        inner = max(alike, key=len) if max(map(len, alike)) > 1 or self.count == 1 else []
        outer = [kart for kart in range(self.count) if kart not in inner]
        images = len({self._signature(move, order) for order in self._orders})
        if images != factorial(self.count) // factorial(self.count - len(outer)):
            raise Unusable(f"{move.name} treats karts in groups that no ruleset can tell")
        return outer, inner

    def _swap(self, one: int, other: int) -> Order:
        order = list(range(self.count))
        order[one], order[other] = other, one
        return tuple(order)

    def _signature(self, move: Move, order: Order) -> Signature:
        def bind(leaf: Node) -> Value:
            return slot(self._moved(leaf.args[0], order)) if leaf.op == "slot" else leaf

        kept: dict[Value, Value] = {}
        updates = frozenset(
            (self._moved(place, order), self._shape(rebuild(value, bind, kept)))
            for place, value in move.updates
        )
        return move.rule.name, self._shape(rebuild(move.guard, bind, kept)), updates

    def _shape(self, value: Value) -> object:
        """Give a number that trees share which differ in nothing but the order of members."""
        if isinstance(value, int):
            return ("constant", value)
        if value.op in LEAVES:
            return value
        parts = [self._shape(arg) for arg in value.args]
        shape = (value.op, frozenset(parts) if value.op in ("and", "or", "eq") else tuple(parts))
        return self._shapes.setdefault(shape, len(self._shapes))
