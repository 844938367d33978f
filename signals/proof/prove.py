"""Proves a small venue whole: every reachable state by every explorer, every property, in one report.

    proof = Prover(Size(2, 2, 2), TABLE, print).prove(("spin", "rumur", "z3"))
    proof.held, proof.states, proof.properties

The counts of all explorers must be equal, and the states that the `transitions` machines lead to must
be the same states.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import asdict, dataclass, field
from time import perf_counter
from typing import Any

from signals.core.forms import Table
from signals.core.ground import Ground
from signals.core.table import TABLE
from signals.proof.asking import Counted, Explored, ask
from signals.proof.live import LIVE, lives
from signals.proof.pins import PINNED
from signals.proof.program import Program
from signals.proof.properties import ENABLED, STATE, STEPS
from signals.proof.scopes import Size, Slice, core_rows, layout_of
from signals.proof.spoken import spoken
from signals.proof.states import Explorer, Found
from signals.proof.stating import Statements
from signals.proof.symmetry import symmetry
from signals.proof.ways import Way

Say = Callable[[str], None]
"""Told what is being done, for whoever waits."""


@dataclass(frozen=True, slots=True)
class Judged:
    """One property: whether it held in all that was explored, else a shortest way to where it broke."""

    name: str
    says: str
    held: bool
    way: tuple[str, ...] = ()


@dataclass(slots=True)
class Proof:
    """What came of proving a small venue.

    Attributes:
        size: sectors x karts x posts.
        states: how many states can be reached.
        transitions: how often a move is open in one of them.
        graph: a digest of states and transitions: a changed table changes it.
        pinned: the digest that the table is known to have at this size; empty where none is.
        interchangeable: what the venue cannot tell apart, and what it can and why.
        counted: what every explorer counted; all must agree.
        agree: whether they do.
        ways: for each broken property, the moves with the facts after each.

    """

    size: str
    moves: int = 0
    states: int = 0
    transitions: int = 0
    graph: str = ""
    pinned: str = ""
    interchangeable: dict[str, str] = field(default_factory=dict)
    properties: list[Judged] = field(default_factory=list)
    counted: list[Counted] = field(default_factory=list)
    agree: bool = True
    seconds: float = 0.0
    ways: dict[str, Way] = field(default_factory=dict)

    @property
    def held(self) -> bool:
        """Whether every property held, all explorers agree, and the graph is the one that is pinned."""
        return self.agree and self.as_pinned and all(judged.held for judged in self.properties)

    @property
    def as_pinned(self) -> bool:
        """Whether the graph is the one that is pinned, where one is."""
        return self.pinned in ("", self.graph)

    def as_dict(self) -> dict[str, Any]:
        """Give it as JSON values."""
        told = {name: value for name, value in asdict(self).items() if name != "ways"}
        return {"held": self.held, **told}


class Prover:
    """Proves one small venue by one table."""

    def __init__(self, size: Size, table: Table, say: Say) -> None:
        self._size = size
        self.layout = layout_of(size)
        self.ground = Ground(table, self.layout)
        self.program = Program(self.ground, core_rows(self.layout, table))
        self.statements = Statements(self.program)
        self.proof = Proof(str(size), len(self.program.moves), pinned=PINNED.get(str(size), ""))
        self._breaches = list(self.statements.breaches())
        self._say = say

    def prove(self, with_: Sequence[str] = ()) -> Proof:
        """Explore and judge; then ask whoever else is to be asked."""
        begun = perf_counter()
        self._explore()
        self._count(self._by_machines())
        self._ask(with_)
        self.proof.seconds = round(perf_counter() - begun, 1)
        return self.proof

    def _ask(self, tools: Sequence[str]) -> None:
        """Ask others, side by side."""
        if not tools:
            return
        self._say(f"asking {', '.join(tools)}")
        proof, model = self.proof, spoken(self.statements, self._breaches)
        held = all(judged.held for judged in proof.properties)
        ours = Explored(
            self._size, self.layout, self.ground.table, model, proof.states, proof.transitions, held
        )
        for counted in ask(tools, ours):
            self._count(counted)

    def _count(self, counted: Counted) -> None:
        self.proof.counted.append(counted)
        self.proof.agree &= counted.agrees

    def _explore(self) -> None:
        self._say("exploring every state")
        begun, proof = perf_counter(), self.proof
        explorer = Explorer(self.program, self._breaches)
        found = explorer.run(progress=lambda states, more: self._say(f"{states:,} states, {more:,} to visit"))
        proof.states, proof.transitions = len(found.keys), found.transitions
        proof.graph = _graph(explorer, found)
        proof.properties = list(self._judged(explorer, found))
        if not found.broken:
            self._say("what is within reach of every state")
            proof.properties += self._living(explorer, found)
        self._count(Counted("kerblight", proof.states, proof.transitions, _since(begun)))
        self._say("states that differ in nothing but who is who")
        begun = perf_counter()
        swaps, proof.interchangeable = symmetry(self.ground)
        if swaps.swaps:
            orbits = Explorer(self.program, symmetry=swaps).run()
            counts = len(orbits.keys), orbits.transitions
            self._count(Counted("kerblight, interchangeable karts as one", *counts, _since(begun)))

    def _judged(self, explorer: Explorer, found: Found) -> Iterator[Judged]:
        broken = {each.breach.name: each for each in reversed(found.broken)}
        told = {prop.name: prop.says for prop in (*STATE, *STEPS)}
        for always in ENABLED:
            told.setdefault(always.name, always.says)
        for name, says in told.items():
            if name not in broken:
                yield Judged(name, says, held=True)
                continue
            first = broken[name]
            way = [*explorer.way(found, first.key, first.level)]
            if first.breach.move is not None:
                way.append((first.breach.move, explorer.after(first.key, first.breach.move)))
            self.proof.ways[name] = way
            yield Judged(name, says, held=False, way=tuple(move.name for move, _ in way))

    def _living(self, explorer: Explorer, found: Found) -> Iterator[Judged]:
        says = {live.name: live.says for live in LIVE}
        for name, stuck in lives(explorer, self.statements, found):
            if not len(stuck):
                yield Judged(name, says[name], held=True)
                continue
            key, level = explorer.nearest(found, stuck)
            self.proof.ways[name] = way = explorer.way(found, key, level)
            yield Judged(name, says[name], held=False, way=tuple(move.name for move, _ in way))

    def _by_machines(self) -> Counted:
        """Explore again with every constant move made by the `transitions` machines."""
        self._say("the same by the state machines")
        begun = perf_counter()
        scope = core_rows(self.layout, self.ground.table, by_machines=True)
        explorer = Explorer(Program(self.ground, scope))
        found = explorer.run()
        same = _graph(explorer, found) == self.proof.graph
        counts = len(found.keys), found.transitions
        return Counted("the transitions machines", *counts, _since(begun), agrees=same)


def _graph(explorer: Explorer, found: Found) -> str:
    """Give a digest of all states and transitions."""
    return f"{explorer.space.digest(found.keys)[:16]}-{found.graph:016x}"


def _since(begun: float) -> float:
    return round(perf_counter() - begun, 1)


@dataclass(frozen=True, slots=True)
class Sliced:
    """What came of one slice of the table; `broken` names what did not hold."""

    name: str
    size: str
    states: int
    transitions: int
    seconds: float
    broken: tuple[str, ...]

    @property
    def held(self) -> bool:
        """Whether every property held."""
        return not self.broken


def explore_slice(part: Slice, say: Say, table: Table = TABLE) -> Sliced:
    """Visit one slice of the table whole."""
    say(part.name)
    begun = perf_counter()
    program = Program(Ground(table, part.layout()), part.scope(table))
    statements = Statements(program)
    explorer = Explorer(program, list(statements.breaches()))
    found = explorer.run()
    broken = [each.breach.name for each in found.broken]
    broken += [name for name, stuck in lives(explorer, statements, found) if len(stuck)]
    return Sliced(
        part.name,
        str(part.size),
        len(found.keys),
        found.transitions,
        _since(begun),
        tuple(dict.fromkeys(broken)),
    )
