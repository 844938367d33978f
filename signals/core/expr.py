"""The expressions of the rule table: read as Python, type-checked, turned into code over integers.

An expression is a string such as `any(caution[s, p] != none for p in holder)`. It may use members of
domains, facts, relations, definitions, parameters, indexing, ==, !=, in, and, or, not, if-else, and
any/all over sorts with a filter. There are no numbers and no time. A fact's value is the place of its
member in its domain, and a state is one flat tuple of such integers, so the same text serves the
deciding code, the explorer and the exports.

A domain is a tuple of members; where one domain's members begin another's, values of the first may
stand for values of the second (a post is a holder, a sector is a spot, an aspect is a told aspect).
"""

from __future__ import annotations

import ast
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

from signals.errors import KerblightError


class TableError(KerblightError, TypeError):
    """The rule table is wrong: an unknown name, a type that does not fit, a form that is not allowed."""


@dataclass(frozen=True, slots=True)
class Domain:
    """A named, ordered set of members; also a sort to index by."""

    name: str
    members: tuple[str, ...]

    def fits(self, other: Domain) -> bool:
        """Whether values of one may be compared with or stand for values of the other."""
        short = min(len(self.members), len(other.members))
        return self.members[:short] == other.members[:short]


BOOL = Domain("bool", ("false", "true"))


@dataclass(frozen=True, slots=True)
class Array:
    """Something indexed: a fact (with its place in the facts vector) or a definition."""

    name: str
    over: tuple[Domain, ...]
    domain: Domain
    base: int = 0

    @property
    def size(self) -> int:
        """How many values it holds."""
        size = 1
        for sort in self.over:
            size *= len(sort.members)
        return size


@dataclass(frozen=True, slots=True)
class Constant:
    """A relation of the venue: a value for every index, in row-major order."""

    name: str
    over: tuple[Domain, ...]
    values: tuple[int, ...]
    domain: Domain = BOOL


@dataclass(frozen=True, slots=True)
class Schema:
    """All names an expression may use, for one venue."""

    sorts: Mapping[str, Domain]
    facts: Mapping[str, Array]
    constants: Mapping[str, Constant]
    vectors: Mapping[str, Array]
    """Values given with a call for every index, such as the staged group's classes."""
    definitions: dict[str, Array] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Bound:
    """A variable: its sort and the code (or the constant) that gives its value."""

    domain: Domain
    code: str | int


@dataclass(frozen=True, slots=True)
class Code:
    """Code over `f` (facts) and `d` (definitions), with its type; a constant folds into `code`."""

    code: str | int
    domain: Domain


Env = Mapping[str, Bound]
Truth = str | bool
"""Code of a condition, or the constant it folded into."""


@lru_cache(maxsize=4096)
def parse(text: str) -> ast.expr:
    """Parse an expression, once; raises TableError with the text."""
    try:
        return ast.parse(text, mode="eval").body
    except SyntaxError as error:
        raise TableError(f"{text!r}: {error.msg}") from error


class Emitter:
    """Turn checked expressions into Python code for one schema."""

    def __init__(self, schema: Schema) -> None:
        self.schema = schema
        self._emitted: dict[tuple[Any, ...], Code] = {}
        """What any/all came to, by its node and the variables it uses from outside."""

    def truth(self, text: str, env: Env) -> str | bool:
        """Emit a condition; a constant one comes back as bool."""
        code = self._emit(parse(text), env, None, text)
        if code.domain is not BOOL:
            raise TableError(f"{text!r} is a {code.domain.name}, not a condition")
        return bool(code.code) if isinstance(code.code, int) else code.code

    def value(self, text: str, env: Env, domain: Domain) -> str:
        """Emit an integer value of a domain."""
        code = self._emit(parse(text), env, domain, text)
        if not code.domain.fits(domain):
            raise TableError(f"{text!r} is a {code.domain.name}, where a {domain.name} is due")
        if isinstance(code.code, int):
            return str(int(code.code))
        return f"(1 if {code.code} else 0)" if domain is BOOL else code.code

    def place(self, fact: Array, indices: tuple[str | int, ...]) -> str | int:
        """Emit where a fact's value stands in the vector (row-major from its base)."""
        return _flat(fact.base, fact.over, indices)

    def target(self, text: str, env: Env) -> Iterator[tuple[Array, str | int, str | bool, Env]]:
        """Unroll `fact[i, j] for i in sort if filter` into (fact, place, condition, environment)."""
        head, _, loops = text.partition(" for ")
        if not loops:
            head, _, test = text.partition(" if ")
            loops = f"once in one if {test}" if test else ""
        tree = parse(f"any({head} for {loops})" if loops else head)
        if isinstance(tree, ast.Call):
            generator = tree.args[0]
            assert isinstance(generator, ast.GeneratorExp)  # noqa: S101 - made in the line above
            for inner, condition in self._bindings(generator.generators, env, text):
                yield (*self._array_place(generator.elt, inner, text), condition, inner)
        else:
            yield (*self._array_place(tree, env, text), True, env)

    def _array_place(self, node: ast.expr, env: Env, text: str) -> tuple[Array, str | int]:
        name, index = _split(node, text)
        if name not in self.schema.facts:
            raise TableError(f"{text!r}: {name} is no fact")
        fact = self.schema.facts[name]
        return fact, self.place(fact, self._indices(index, fact.over, env, text))

    def _indices(
        self, nodes: list[ast.expr], over: tuple[Domain, ...], env: Env, text: str
    ) -> tuple[str | int, ...]:
        if len(nodes) != len(over):
            raise TableError(f"{text!r}: {len(nodes)} indices where {len(over)} are due")
        codes = []
        for node, sort in zip(nodes, over, strict=True):
            code = self._emit(node, env, sort, text)
            if not code.domain.fits(sort):
                raise TableError(f"{text!r}: a {code.domain.name} indexes a {sort.name}")
            codes.append(int(code.code) if isinstance(code.code, int) else code.code)
        return tuple(codes)

    def _emit(self, node: ast.expr, env: Env, hint: Domain | None, text: str) -> Code:
        """Emit any node; `hint` is the domain a bare member belongs to."""
        match node:
            case ast.Name(id=name):
                return self._name(name, env, hint, text)
            case ast.Constant(value=bool(value)):
                return Code(value, BOOL)
            case ast.Subscript():
                return self._subscript(node, env, text)
            case ast.BoolOp(op=op, values=values):
                word = "and" if isinstance(op, ast.And) else "or"
                return Code(_join(word, [self._truth(v, env, text) for v in values]), BOOL)
            case ast.UnaryOp(op=ast.Not(), operand=operand):
                inner = self._truth(operand, env, text)
                return Code(not inner if isinstance(inner, bool) else f"(not {inner})", BOOL)
            case ast.Compare(left=left, ops=[op], comparators=[right]):
                return self._compare(left, op, right, env, text)
            case ast.IfExp(test=test, body=body, orelse=orelse):
                return self._if(test, body, orelse, env, hint, text)
            case ast.Call(func=ast.Name(id=("any" | "all") as word), args=[ast.GeneratorExp() as each]):
                return self._quantified(word, each, env, text)
        raise TableError(f"{text!r}: {ast.unparse(node)} is not of the table's language")

    def _truth(self, node: ast.expr, env: Env, text: str) -> str | bool:
        code = self._emit(node, env, BOOL, text)
        if code.domain is not BOOL:
            raise TableError(f"{text!r}: {ast.unparse(node)} is a {code.domain.name}, not a condition")
        return bool(code.code) if isinstance(code.code, int) else code.code

    def _name(self, name: str, env: Env, hint: Domain | None, text: str) -> Code:
        if name in env:
            return Code(env[name].code, env[name].domain)
        if hint is not None and hint is not BOOL and name in hint.members:
            return Code(hint.members.index(name), hint)
        return self._lookup(name, (), text)

    def _subscript(self, node: ast.Subscript, env: Env, text: str) -> Code:
        name, index = _split(node, text)
        schema = self.schema
        for table in (schema.facts, schema.definitions, schema.constants, schema.vectors):
            if name in table:
                return self._lookup(name, self._indices(index, table[name].over, env, text), text)
        raise TableError(f"{text!r}: {name} is neither fact, definition nor relation")

    def _lookup(self, name: str, indices: tuple[str | int, ...], text: str) -> Code:
        schema = self.schema
        if name in schema.facts:
            fact = schema.facts[name]
            return Code(f"f[{self.place(fact, indices)}]", fact.domain)
        if name in schema.definitions:
            made = schema.definitions[name]
            return Code(f"d[{made.base}][{_flat(0, made.over, indices)}]", made.domain)
        if name in schema.constants:
            constant = schema.constants[name]
            at = _flat(0, constant.over, indices)
            return Code(constant.values[at] if isinstance(at, int) else f"R_{name}[{at}]", constant.domain)
        if name in schema.vectors:
            vector = schema.vectors[name]
            return Code(f"{name}[{_flat(0, vector.over, indices)}]", vector.domain)
        raise TableError(f"{text!r}: unknown name {name}")

    def _compare(self, left: ast.expr, op: ast.cmpop, right: ast.expr, env: Env, text: str) -> Code:
        first = self._emit(left, env, None, text)
        negated = isinstance(op, ast.NotEq | ast.NotIn)
        if isinstance(op, ast.Eq | ast.NotEq):
            options = [self._emit(right, env, first.domain, text)]
        elif isinstance(op, ast.In | ast.NotIn) and isinstance(right, ast.Tuple):
            options = [self._emit(item, env, first.domain, text) for item in right.elts]
        else:
            raise TableError(f"{text!r}: only ==, !=, in and not in a tuple compare")
        for option in options:
            if not option.domain.fits(first.domain):
                raise TableError(f"{text!r}: a {first.domain.name} against a {option.domain.name}")
        return Code(_equal(first.code, [option.code for option in options], negated=negated), BOOL)

    def _if(
        self, test: ast.expr, body: ast.expr, orelse: ast.expr, env: Env, hint: Domain | None, text: str
    ) -> Code:
        condition = self._truth(test, env, text)
        yes, no = self._emit(body, env, hint, text), self._emit(orelse, env, hint, text)
        if not yes.domain.fits(no.domain):
            raise TableError(f"{text!r}: one branch is a {yes.domain.name}, the other a {no.domain.name}")
        wide = max(yes.domain, no.domain, key=lambda domain: len(domain.members))
        if isinstance(condition, bool):
            return Code(yes.code if condition else no.code, wide)
        return Code(f"({_number(yes.code)} if {condition} else {_number(no.code)})", wide)

    def _quantified(self, word: str, each: ast.GeneratorExp, env: Env, text: str) -> Code:
        outside = ((name, env[name].code, env[name].domain.name) for name in _names(each) if name in env)
        key = (each, *outside)
        if key not in self._emitted:
            self._emitted[key] = self._unrolled(word, each, env, text)
        return self._emitted[key]

    def _unrolled(self, word: str, each: ast.GeneratorExp, env: Env, text: str) -> Code:
        terms: list[str | bool] = []
        for inner, condition in self._bindings(each.generators, env, text):
            term = self._truth(each.elt, inner, text)
            if word == "any":
                terms.append(_join("and", [condition, term]))
            else:
                terms.append(_join("or", [_negate(condition), term]))
        return Code(_join("or" if word == "any" else "and", terms), BOOL)

    def _bindings(
        self, loops: list[ast.comprehension], env: Env, text: str
    ) -> Iterator[tuple[Env, str | bool]]:
        """Every assignment of the loops' variables whose filter is not constantly false."""
        if not loops:
            yield env, True
            return
        loop, rest = loops[0], loops[1:]
        if not isinstance(loop.target, ast.Name) or not isinstance(loop.iter, ast.Name):
            raise TableError(f"{text!r}: loops run as `for name in sort`")
        sort = self.schema.sorts.get(loop.iter.id)
        if sort is None:
            raise TableError(f"{text!r}: unknown sort {loop.iter.id}")
        for number in range(len(sort.members)):
            inner = {**env, loop.target.id: Bound(sort, number)}
            own = _join("and", [self._truth(test, inner, text) for test in loop.ifs])
            if own is False:
                continue
            for deeper, condition in self._bindings(rest, inner, text):
                joined = _join("and", [own, condition])
                if joined is not False:
                    yield deeper, joined


@lru_cache(maxsize=4096)
def _names(node: ast.expr) -> tuple[str, ...]:
    """Give the names in an expression."""
    return tuple(sorted({inner.id for inner in ast.walk(node) if isinstance(inner, ast.Name)}))


def _split(node: ast.expr, text: str) -> tuple[str, list[ast.expr]]:
    match node:
        case ast.Name(id=name):
            return name, []
        case ast.Subscript(value=ast.Name(id=name), slice=ast.Tuple(elts=elts)):
            return name, elts
        case ast.Subscript(value=ast.Name(id=name), slice=index):
            return name, [index]
    raise TableError(f"{text!r}: {ast.unparse(node)} is no fact")


def _flat(base: int, over: tuple[Domain, ...], indices: tuple[str | int, ...]) -> str | int:
    constant, parts = base, []
    stride = 1
    for sort, index in reversed(list(zip(over, indices, strict=True))):
        if isinstance(index, int):
            constant += index * stride
        else:
            parts.append(f"{index} * {stride}" if stride > 1 else index)
        stride *= len(sort.members)
    if not parts:
        return constant
    return " + ".join([*([str(constant)] if constant else []), *reversed(parts)])


def _number(code: str | int) -> str:
    return str(int(code)) if isinstance(code, int) else code


def _negate(code: Truth) -> Truth:
    return not code if isinstance(code, bool) else f"(not {code})"


def _equal(first: str | int, options: list[str | int], *, negated: bool) -> Truth:
    if all(isinstance(code, int) for code in (first, *options)):
        return (first in options) is not negated
    if len(options) == 1:
        return f"{_number(first)} {'!=' if negated else '=='} {_number(options[0])}"
    listed = ", ".join(_number(option) for option in options)
    return f"{_number(first)} {'not in' if negated else 'in'} ({listed})"


def _join(word: str, terms: list[str | bool]) -> str | bool:
    """Join conditions by and/or, folding constants; () is the neutral one."""
    absorbing = word == "or"
    kept: list[str] = []
    for term in terms:
        if isinstance(term, bool):
            if term is absorbing:
                return absorbing
        elif term not in kept:
            kept.append(term)
    if not kept:
        return not absorbing
    return kept[0] if len(kept) == 1 else "(" + f" {word} ".join(kept) + ")"
