"""A venue's table as trees that keep open what comes with a call: what the solver reads.

The explorer needs every move spelled out, the truths and groups that come with it included. The solver
takes those as unknowns, so a venue of any size has as many moves as rules with their parameters; and
of moves that differ only in karts a venue cannot tell apart, one of each kind.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from itertools import product

from signals.core.expr import BOOL, Array, Bound, Domain, Env, TableError, parse
from signals.core.forms import Rule, Table
from signals.core.ground import Ground, closed
from signals.core.schema import GIVEN
from signals.proof.nodes import Value
from signals.proof.program import Asking, Move, Program, Scope, narrower
from signals.proof.stating import Statements
from signals.proof.symmetry import keeps


class Symbolic(Program):
    """A program of every fact (nothing is left out as a report), with symbolic moves.

    `moves` have a guard for every caller in `asked` and none of their own; their updates still read
    the truths and the staged classes that come with a call.
    """

    def _ways(self, rule: Rule, names: dict[str, str], envs: list[dict[str, Bound]]) -> Iterator[Move]:
        holders = self.ground.schema.sorts["holder"].members
        asked = tuple(Asking(holders[int(env["post"].code)], self._guard(rule, env)) for env in envs)
        yield Move(rule, names, 1, tuple(self._updates(rule, envs[0])), asked)

    def _reachable(self, moves: list[Move]) -> list[Move]:
        """Let every place take every member of its domain; what it never takes is to be shown."""
        self.domains = {
            array.base + number: list(range(len(array.domain.members)))
            for array in self.ground.schema.facts.values()
            for number in range(array.size)
        }
        self._narrow = narrower(self.domains)
        self.aspects = [self.fold(value) for value in self.aspects]
        return [self.folded(move) for move in moves]


class Symbolics(Statements):
    """Properties as trees over a symbolic program."""

    def tree(self, text: str, env: Env) -> Value:
        """Give a condition's tree; `after(…)` stays a leaf of its own."""
        return self._tree(text, env)

    @property
    def sorts(self) -> Mapping[str, Domain]:
        """All sorts of the properties' language, by name."""
        return self._emitter.schema.sorts

    def env(self, move: Move, post: str) -> dict[str, Bound]:
        """Give what a clause on steps may name of a move."""
        sorts = self.program.ground.schema.sorts
        named = {
            "word": ("word", move.rule.word),
            "post": ("holder", post),
            **{name: (sort, move.names[name]) for name, sort in move.rule.params.items()},
        }
        env = {
            name: Bound(sorts[sort], sorts[sort].members.index(member))
            for name, (sort, member) in named.items()
        }
        return env | {name: Bound(BOOL, name) for name in (*GIVEN, "changes")}


# -- what a venue cannot tell apart ---------------------------------------------------------------------


def alike(ground: Ground) -> list[tuple[str, ...]]:
    """Give the karts in groups that the venue's relations do not tell apart, each in the venue's order."""
    karts = ground.schema.sorts["kart"].members
    groups: list[list[int]] = []
    for number in range(len(karts)):
        for group in groups:
            if keeps(ground, {"kart": _exchanged(len(karts), group[0], number)}):
                group.append(number)
                break
        else:
            groups.append([number])
    return [tuple(karts[number] for number in group) for group in groups]


def _exchanged(count: int, first: int, second: int) -> tuple[int, ...]:
    order = list(range(count))
    order[first], order[second] = second, first
    return tuple(order)


def one_of_each(ground: Ground, groups: list[tuple[str, ...]]) -> Scope:
    """Give the scope in which every rule's karts are the first ones of their groups."""
    values: dict[str, frozenset[str]] = {}
    for rule in ground.table.rules:
        names = [name for name, sort in rule.params.items() if sort == "kart"]
        for number, name in enumerate(names):
            values[f"{rule.name}.{name}"] = frozenset(
                kart for group in groups for kart in group[: number + 1]
            )
    return Scope(inputs=frozenset(), values=values)


def ordered(table: Table) -> list[str]:
    """Give the conditions of interlocks that read the karts' order; nothing else of the table may."""
    told = {closed(case) for interlock in table.interlocks for case in interlock.cases}
    texts = [
        *(definition.when for definition in table.definitions),
        *(text for rule in table.rules for pair in rule.sets.items() for text in pair),
        *(text for rule in table.rules for move in rule.moves for text in (move.target, move.when)),
        *(text for case in table.shows for text in (case.aspect, case.when)),
        *(cap.when for cap in table.caps),
        *(timer.running for timer in table.timers),
    ]
    wrong = [text for text in texts if ORDER in text]
    if wrong:
        raise TableError(f"{wrong[0]!r}: only interlocks may read {ORDER}")
    return sorted(text for text in told if ORDER in text)


ORDER = "earlier"
"""The relation that orders karts, so that each pair is told once; no swap keeps it."""


def swapped(ground: Ground, first: str, second: str) -> dict[int, int]:
    """Give, for every place of either of two karts, the same place of the other."""
    other = {first: second, second: first}
    return {
        array.base + number: ground.index(
            name, *(other.get(m, m) if s.name == "kart" else m for s, m in _zipped(array, index))
        )
        for name, array in ground.schema.facts.items()
        for number, index in enumerate(ground.each(array))
    }


def _zipped(array: Array, index: tuple[str, ...]) -> list[tuple[Domain, str]]:
    return list(zip(array.over, index, strict=True))


# -- clauses in pieces ------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Piece:
    """One of the conditions a clause says together, with what its `all` bound."""

    text: str
    bound: Mapping[str, tuple[str, str]]
    """name -> (sort, member)"""


Sorts = Mapping[str, tuple[str, ...]]
_Bounds = dict[str, tuple[str, str]]


def pieces(text: str, sorts: Sorts, *, over: str = "") -> list[Piece]:
    """Take a clause apart at its outermost `and` and `all`, also behind an `or`.

    Args:
        text: the clause.
        sorts: the members of every sort.
        over: leave an `all` whole unless it runs over this sort; take every one apart by default.

    """
    return list(_apart(parse(text), {}, sorts, over))


def _apart(tree: ast.expr, bound: _Bounds, sorts: Sorts, over: str) -> Iterator[Piece]:
    match tree:
        case ast.BoolOp(op=ast.And(), values=values):
            for value in values:
                yield from _apart(value, bound, sorts, over)
        case ast.BoolOp(op=ast.Or(), values=[*first, last]):
            before = ast.unparse(ast.BoolOp(ast.Or(), first) if len(first) > 1 else first[0])
            for piece in _apart(last, bound, sorts, over):
                yield Piece(f"({before}) or ({piece.text})", piece.bound)
        case ast.Call(func=ast.Name(id="all"), args=[ast.GeneratorExp() as each]) if _runs_over(each, over):
            yield from _each(each, bound, sorts)
        case _:
            yield Piece(ast.unparse(tree), bound)


def _loops(each: ast.GeneratorExp) -> list[tuple[str, str]]:
    """Give the names a generator binds, with their sorts."""
    return [(ast.unparse(loop.target), ast.unparse(loop.iter)) for loop in each.generators]


def _runs_over(each: ast.GeneratorExp, sort: str) -> bool:
    return not sort or any(own == sort for _, own in _loops(each))


def _each(each: ast.GeneratorExp, bound: _Bounds, sorts: Sorts) -> Iterator[Piece]:
    tests = " and ".join(f"({ast.unparse(test)})" for loop in each.generators for test in loop.ifs)
    text = f"not ({tests}) or ({ast.unparse(each.elt)})" if tests else ast.unparse(each.elt)
    loops = _loops(each)
    for members in product(*(sorts[sort] for _, sort in loops)):
        own = {name: (sort, member) for (name, sort), member in zip(loops, members, strict=True)}
        yield Piece(text, bound | own)


def told_apart(piece: Piece, named: frozenset[str], groups: list[tuple[str, ...]]) -> bool:
    """Whether a piece's karts are the first of their groups besides those a move names."""
    used = set(named)
    for sort, member in piece.bound.values():
        if sort == "kart" and member not in used:
            group = next(group for group in groups if member in group)
            if member != next(kart for kart in group if kart not in used):
                return False
            used.add(member)
    return True


@cache
def plain_names(text: str) -> frozenset[str]:
    """Give the names a text uses as values: no facts that are indexed, no loops, no sorts."""
    tree = parse(text)
    tables = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Subscript)}
    loops = {
        id(part)
        for node in ast.walk(tree)
        if isinstance(node, ast.comprehension)
        for part in (node.target, node.iter)
    }
    return frozenset(
        node.id for node in ast.walk(tree) if isinstance(node, ast.Name) and id(node) not in tables | loops
    )
