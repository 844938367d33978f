"""Conditions and values over a state, as shared trees: what every reader of the grounded table walks.

A node is interned: equal nodes are one object, so readers remember results by identity. Making a node
folds constants. `slots` are the places of the facts vector; a slot of the state after a move is
another kind of node, so a step is one tree too.
"""

from __future__ import annotations

import ast
from collections.abc import Callable, Iterator, Mapping
from functools import lru_cache, partial
from typing import Any


class Node:
    """One operation on nodes. Made only by the functions of this module.

    Operations: `slot` (place), `after` (place, in the state after a move), `free` (name: a truth or a
    value that comes with a move), `and`, `or`, `not`, `eq`, `le` (of values), `if` (condition, value,
    value). A constant is a plain int; a condition's is 0 or 1.
    """

    __slots__ = ("args", "op", "reads")

    def __init__(self, op: str, args: tuple[Any, ...], reads: frozenset[tuple[str, int | str]]) -> None:
        self.op = op
        self.args = args
        self.reads = reads
        """Every leaf below, as ("slot", place), ("after", place) or ("free", name)."""

    def __repr__(self) -> str:
        """Spell the tree out."""
        return f"({self.op} {' '.join(map(repr, self.args))})"


Value = Node | int

_INTERNED: dict[tuple[Any, ...], Node] = {}


def _make(op: str, *args: Any) -> Node:
    # Interned by the identity of nodes and the value of everything else; nodes hash by identity.
    key = (op, *args)
    found = _INTERNED.get(key)
    if found is None:
        if op in LEAVES:
            reads = frozenset({(op, args[0])})
        else:
            reads = frozenset().union(*(arg.reads for arg in args if isinstance(arg, Node)))
        found = _INTERNED[key] = Node(op, args, reads)
    return found


LEAVES = ("slot", "after", "free")


def slot(place: int) -> Node:
    """Give the value of a slot."""
    return _make("slot", place)


def after(place: int) -> Node:
    """Give the value of a slot after the move."""
    return _make("after", place)


def free(name: str) -> Node:
    """Give a value that comes with the move."""
    return _make("free", name)


def conj(values: list[Value]) -> Value:
    """All of them."""
    return _join("and", 0, values)


def disj(values: list[Value]) -> Value:
    """Any of them."""
    return _join("or", 1, values)


def _join(op: str, absorbing: int, values: list[Value]) -> Value:
    kept: dict[Value, None] = {}
    for value in values:
        if isinstance(value, int):
            if value == absorbing:
                return absorbing
        elif value.op == op:
            kept.update(dict.fromkeys(value.args))
        else:
            kept[value] = None
    if not kept:
        return 1 - absorbing
    if any(negate(value) in kept for value in kept):
        return absorbing
    kept = _absorbed(op, kept)
    return next(iter(kept)) if len(kept) == 1 else _make(op, *kept)


def _absorbed(op: str, kept: dict[Value, None]) -> dict[Value, None]:
    """Leave out what another member makes superfluous: a | (a & b) is a."""
    inner = "or" if op == "and" else "and"
    parts = {
        value: frozenset(value.args if value.op == inner else (value,))
        for value in kept
        if isinstance(value, Node)
    }
    if all(len(part) == 1 for part in parts.values()):
        return kept
    return {
        value: None
        for value, part in parts.items()
        if len(part) == 1 or not any(other < part for other in parts.values())
    }


_NEGATED: dict[Node, Value] = {}


def negate(value: Value) -> Value:
    """Not; of `and` and `or`, the negations of their members, so that `not` stands on comparisons alone."""
    if isinstance(value, int):
        return 1 - value
    made = _NEGATED.get(value)
    if made is None:
        args: list[Value] = list(value.args)
        match value.op:
            case "not":
                made = args[0]
            case "and":
                made = disj([negate(arg) for arg in args])
            case "or":
                made = conj([negate(arg) for arg in args])
            case _:
                made = _make("not", value)
        _NEGATED[value] = made
    return made


def equal(left: Value, right: Value) -> Value:
    """Whether two values are the same; a constant comes last."""
    if isinstance(left, int):
        if isinstance(right, int):
            return int(left == right)
        left, right = right, left
    if left is right:
        return 1
    if isinstance(right, int) and left.op in CONDITIONS:
        return (negate(left), left)[right] if right in (0, 1) else 0
    if left.op == "if":
        yes, no = equal(left.args[1], right), equal(left.args[2], right)
        if isinstance(yes, int) or isinstance(no, int):
            return choose(left.args[0], yes, no)
    return _make("eq", left, right)


def at_most(left: Value, right: Value) -> Value:
    """Whether a value is no greater than another."""
    if isinstance(left, int) and isinstance(right, int):
        return int(left <= right)
    return 1 if left is right else _make("le", left, right)


def truth(value: Value) -> Value:
    """Turn a value of a two-member domain into a condition."""
    if isinstance(value, int):
        return int(value != 0)
    return value if value.op in CONDITIONS else equal(value, 1)


def choose(condition: Value, yes: Value, no: Value) -> Value:
    """One value or the other; of two conditions, in terms of and and or."""
    if isinstance(condition, int):
        return yes if condition else no
    if yes is no or (isinstance(yes, int) and yes == no):
        return yes
    if is_condition(yes) and is_condition(no):
        return disj([conj([condition, yes]), conj([negate(condition), no])])
    return _make("if", condition, yes, no)


CONDITIONS = ("and", "or", "not", "eq", "le")


def is_condition(value: Value) -> bool:
    """Whether a value is a condition by its form; constants 0 and 1 may be."""
    return value in (0, 1) if isinstance(value, int) else value.op in CONDITIONS


Leaf = Callable[[Node], Value]
Same = Callable[[Value, Value], Value]


def rebuild(value: Value, leaf: Leaf, kept: dict[Value, Value], same: Same = equal) -> Value:
    """Make a tree anew with other leaves; `kept` remembers, one dict a meaning of `leaf` and `same`."""
    if isinstance(value, int):
        return value
    made = kept.get(value)
    if made is not None:
        return made
    if value.op in LEAVES:
        made = leaf(value)
    else:
        args = [rebuild(arg, leaf, kept, same) for arg in value.args]
        made = same(*args) if value.op == "eq" else _OF[value.op](args)
    kept[value] = made
    return made


_OF: Mapping[str, Callable[[list[Value]], Value]] = {
    "and": conj,
    "or": disj,
    "not": lambda args: negate(args[0]),
    "le": lambda args: at_most(args[0], args[1]),
    "if": lambda args: choose(args[0], args[1], args[2]),
}


def propagate(value: Value) -> Value:
    """Carry what single members of a conjunction say into the others, until nothing is left to carry."""
    known: dict[Node, int] = {}
    while isinstance(value, Node) and value.op == "and":
        units = {arg.args[0]: arg.args[1] for arg in value.args if _unit(arg)}
        fresh = {leaf: number for leaf, number in units.items() if leaf not in known}
        known |= fresh
        kept: dict[Value, Value] = {}
        if fresh:
            rest = [rebuild(arg, partial(_known, known), kept) for arg in value.args]
            value = conj([*(equal(leaf, number) for leaf, number in known.items()), *rest])
            continue
        literals = {arg for arg in value.args if arg.op != "or"}
        made = conj([_without(arg, literals) for arg in value.args])
        if made is value:
            return value
        value = made
    return value


def _known(known: Mapping[Node, int], leaf: Node) -> Value:
    return known.get(leaf, leaf)


def _without(member: Node, literals: set[object]) -> Value:
    """Leave out of a disjunction what the literals beside it deny."""
    if member.op != "or":
        return member
    return disj([arg for arg in member.args if negate(arg) not in literals])


def _unit(value: object) -> bool:
    """Whether a member is `leaf == constant`."""
    if not isinstance(value, Node) or value.op != "eq":
        return False
    left, right = value.args
    return isinstance(left, Node) and left.op in LEAVES and isinstance(right, int)


def outcomes(value: Value, of_slot: Callable[[int], set[int]]) -> set[int]:
    """Give every value a tree may take, given those of the slots it reads; conditions take 0 and 1."""
    if isinstance(value, int):
        return {value}
    if value.op == "if":
        return outcomes(value.args[1], of_slot) | outcomes(value.args[2], of_slot)
    if value.op == "slot":
        return of_slot(value.args[0])
    return {0, 1}


def walk(values: Iterator[Value]) -> Iterator[Node]:
    """Give every node below, each once, operands before what is made of them."""
    seen: set[Node] = set()

    def down(value: Value) -> Iterator[Node]:
        if isinstance(value, int) or value in seen:
            return
        seen.add(value)
        for arg in value.args:
            if isinstance(arg, Node):
                yield from down(arg)
        yield value

    for value in values:
        yield from down(value)


def _pick(trees: list[Value], index: Value) -> Value:
    """Give the tree at an index; one that depends on the state is spelled out."""
    if isinstance(index, int):
        return trees[index]
    return disj([conj([equal(index, number), tree]) for number, tree in enumerate(trees)])


def _later(leaf: Node) -> Value:
    return after(leaf.args[0]) if leaf.op == "slot" else leaf


# -- from the code that the table's emitter writes --------------------------------------------------------


class Translator:
    """Turns emitted code into nodes: `f` is the facts vector, `d` the definitions, other names are free.

    Args:
        definitions: the nodes of every definition's every index, filled while they are made.
        vectors: what a name subscripted by a place stands for, such as `slot` for f.
        later: what a leaf becomes within `A(…)`, the state after a move.

    """

    def __init__(
        self,
        vectors: Mapping[str, Callable[[int], Value]],
        definitions: Mapping[str, list[list[Value]]],
        later: Callable[[Node], Value] | None = None,
    ) -> None:
        self._vectors = vectors
        self._definitions = definitions
        self._later = later or _later
        self._afters: dict[Value, Value] = {}
        self.node = lru_cache(maxsize=None)(self._node)

    def _node(self, text: str) -> Value:
        return self._of(ast.parse(text, mode="eval").body)

    def _of(self, tree: ast.expr) -> Value:
        match tree:
            case ast.Constant(value=int(value)):
                return int(value)
            case ast.Name(id=name):
                return free(name)
            case ast.BoolOp(op=ast.And(), values=values):
                return conj([truth(self._of(value)) for value in values])
            case ast.BoolOp(values=values):
                return disj([truth(self._of(value)) for value in values])
            case ast.UnaryOp(operand=operand):
                return negate(truth(self._of(operand)))
            case ast.IfExp(test=test, body=body, orelse=orelse):
                return choose(truth(self._of(test)), self._of(body), self._of(orelse))
            case ast.Compare(left=left, ops=[op], comparators=[right]):
                return self._compare(op, self._of(left), right)
            case ast.Call(func=ast.Name(id="A"), args=[inner]):
                return rebuild(self._of(inner), self._later, self._afters)
            case ast.Subscript(value=ast.Name(id=name), slice=index):
                return self._vectors[name](self._number(index)) if name in self._vectors else self._free(tree)
            case ast.Subscript(
                value=ast.Subscript(value=ast.Name(id=name), slice=ast.Constant(value=int(which))),
                slice=index,
            ):
                return _pick(self._definitions[name][which], self._of(index))
        raise TypeError(f"{ast.unparse(tree)} is not what the table's emitter writes with every name bound")

    def _number(self, tree: ast.expr) -> int:
        number = self._of(tree)
        if not isinstance(number, int):
            raise TypeError(f"{ast.unparse(tree)} indexes facts by a value that is not bound")
        return number

    def _free(self, tree: ast.expr) -> Value:
        return free(ast.unparse(tree))

    def _compare(self, op: ast.cmpop, left: Value, right: ast.expr) -> Value:
        if isinstance(op, ast.LtE):
            return at_most(left, self._of(right))
        options = right.elts if isinstance(right, ast.Tuple) else [right]
        same = disj([equal(left, self._of(option)) for option in options])
        return negate(same) if isinstance(op, ast.NotEq | ast.NotIn) else same
