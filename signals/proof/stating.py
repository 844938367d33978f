"""The properties' language turned into trees over a program, and each property into what would break it."""

from __future__ import annotations

import ast
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import product

from signals.core.expr import (
    BOOL,
    Array,
    Bound,
    Code,
    Constant,
    Domain,
    Emitter,
    Env,
    Schema,
    TableError,
)
from signals.core.schema import GIVEN
from signals.proof.nodes import (
    Node,
    Translator,
    Value,
    after,
    choose,
    conj,
    disj,
    equal,
    free,
    negate,
    outcomes,
    propagate,
    rebuild,
    slot,
    truth,
)
from signals.proof.program import Asking, Move, Program, exists, names_in
from signals.proof.properties import ENABLED, STATE, STEPS, Always, Clause, Property


@dataclass(frozen=True, slots=True)
class Breach:
    """What would break a property: a condition of one state, and the move it goes with.

    `symbolic` still reads the truths and reports that come with the move as free names; `tree` says
    that some of them make it true.
    """

    name: str
    clause: int
    move: Move | None
    tree: Value
    symbolic: Value


OPEN_TO_ALL = ("stop", "caution")


class Stating(Emitter):
    """Emits the properties' language: the table's, with outputs, `<=` and `after(…)`."""

    def _emit(self, node: ast.expr, env: Env, hint: Domain | None, text: str) -> Code:
        match node:
            case ast.Call(func=ast.Name(id="after"), args=[inner]):
                code = self._emit(inner, env, hint, text)
                return code if isinstance(code.code, int) else Code(f"A({code.code})", code.domain)
            case ast.Compare(left=left, ops=[ast.LtE()], comparators=[right]):
                low, high = self._emit(left, env, None, text), self._emit(right, env, None, text)
                if low.domain is not high.domain or low.domain.name not in ("rank", "aspect"):
                    raise TableError(f"{text!r}: only aspects and limits are ordered")
                return Code(f"{low.code} <= {high.code}", BOOL)
        return super()._emit(node, env, hint, text)

    def _lookup(self, name: str, indices: tuple[str | int, ...], text: str) -> Code:
        if name in ("aspect", "limit", "kmh", "class_kmh"):
            made = self.schema.definitions[name]
            return Code(f"{name}[{indices[0]}]", made.domain)
        return super()._lookup(name, indices, text)


class Statements:
    """Every property of a program, as breaches.

    Attributes:
        aspects: head -> its due aspect's rank (0 the most restrictive), as a tree.
        limits: kart -> its due limit's rank among `kmh`.
        kmh: every km/h the venue's limits name, rising.

    """

    def __init__(self, program: Program) -> None:
        self.program = program
        layout, ground = program.ground.layout, program.ground
        self.kmh = sorted({value for limits in layout.limits_kmh.values() for value in limits.values()})
        self.aspects = program.aspects
        self._surface = slot(ground.index("surface"))
        self.limits = [self.program.fold(self._limit(number)) for number in range(len(layout.karts))]
        self._places = {name: place for place, name in program.hidden.items()}
        schema = self._schema()
        self._emitter = Stating(schema)
        names = tuple(layout.limits_kmh["dry"])
        self._translator = Translator(
            {
                "f": slot,
                "aspect": self.aspects.__getitem__,
                "limit": self.limits.__getitem__,
                "kmh": lambda n: self.program.fold(self._rank(names[n])),
                "class_kmh": lambda n: self.program.fold(self._rank(layout.classes[n])),
            },
            {},
            self._later,
        )
        self._kept: dict[Value, Value] = {}
        self._read: dict[tuple[object, ...], Value] = {}

    def breaches(self) -> Iterator[Breach]:
        """Give everything that would break a property; what can't by its form is left out."""
        for prop, number, clause in self._clauses():
            if clause.of_states:
                wrong = negate(self._tree(clause.when, {}))
                tree = exists(wrong)
                if tree != 0:
                    yield Breach(prop.name, number, None, tree, wrong)
            else:
                yield from self._of_moves(prop, number, clause)
        for always in ENABLED:
            yield from self._closed_to(always)

    def _clauses(self) -> Iterator[tuple[Property, int, Clause]]:
        """Give every clause that says something of this program, with its number."""
        for prop in (*STATE, *STEPS):
            for number, clause in enumerate(prop.clauses):
                if clause.stored not in self.program.scope.inputs:
                    yield prop, number, clause

    def _of_moves(self, prop: Property, number: int, clause: Clause) -> Iterator[Breach]:
        for move in self.program.moves:
            if clause.speaks_of(move.rule):
                wrong = disj(list(self._wrongs(clause.when, move)))
                tree = exists(wrong)
                if tree != 0:
                    yield Breach(prop.name, number, move, tree, wrong)

    def _wrongs(self, when: str, move: Move) -> Iterator[Value]:
        """Give, for every caller, the condition under which a move is made against a clause."""
        for asking in move.asked:
            tree = self.of_move(when, move, asking)
            if tree != 1:
                yield propagate(conj([asking.guard, negate(tree)]))

    def of_move(self, when: str, move: Move, asking: Asking, more: Env | None = None) -> Value:
        """Give a clause's tree for a move of one caller: `after` is worked out from the state before."""
        sorts = self._emitter.schema.sorts
        env: dict[str, Bound] = {name: Bound(BOOL, name) for name in (*GIVEN, "changes")}
        env["word"] = Bound(sorts["word"], sorts["word"].members.index(move.rule.word))
        env |= {"post": _member(sorts["holder"], asking.post), **(more or {})}
        for name, member in move.names.items():
            if name in move.rule.params:
                env[name] = _member(sorts[move.rule.params[name]], member)
        changed = dict((*move.updates, *move.reports))
        given = {name: int(member == "true") for name, member in move.names.items() if member in BOOL.members}

        def kept(place: int) -> Value:
            return given.get(self.program.hidden.get(place, ""), _before(self.program, place))

        changes = disj([negate(equal(value, kept(place))) for place, value in changed.items()])

        def bind(leaf: Node) -> Value:
            what = leaf.args[0]
            if leaf.op == "after":
                return changed.get(what, kept(what))
            if leaf.op == "free":
                return changes if what == "changes" else given.get(what, leaf)
            return leaf

        return self.program.fold(rebuild(self._tree(when, env), bind, {}))

    def _closed_to(self, always: Always) -> Iterator[Breach]:
        for move in self.program.moves:
            if move.rule.name == always.rule:
                yield from self._closed_for(always, move)

    def _closed_for(self, always: Always, move: Move) -> Iterator[Breach]:
        ground = self.program.ground
        phase, members = ground.index("phase"), ground.schema.sorts["phase"].members
        due = (
            disj([equal(slot(phase), members.index(name)) for name in always.phases]) if always.phases else 1
        )
        for asking in move.asked:
            if always.rule in OPEN_TO_ALL or move.rule.word in ground.layout.may[asking.post]:
                when = self._tree(always.when, {})
                wrong = propagate(conj([self.program.fold(due), when, negate(exists(asking.guard))]))
                if wrong != 0:
                    yield Breach(always.name, 0, move, exists(wrong), wrong)

    def against(self, move: Move) -> Iterator[Breach]:
        """Give everything a move could break: in the step, in who may make it, and in the state after it."""
        for prop, number, clause in self._clauses():
            when = f"after({clause.when})" if clause.of_states else clause.when
            if clause.of_states or clause.speaks_of(move.rule):
                tree = exists(disj(list(self._wrongs(when, move))))
                if tree != 0:
                    yield Breach(prop.name, number, move, tree, tree)
        for always in ENABLED:
            if always.rule == move.rule.name:
                yield from self._closed_for(always, move)

    def condition(self, text: str) -> Value:
        """Give the tree of a condition of states, in the properties' language."""
        return self._tree(text, {})

    def after(self, text: str, move: Move, env: Env | None = None) -> Value:
        """Give the tree of a condition of a move's states before and after, that names no caller."""
        return self.of_move(text, move, move.asked[0], env)

    def each(self, text: str, over: Mapping[str, str]) -> Iterator[tuple[Env, Value]]:
        """Give a condition's tree for every member of the sorts its names run over."""
        sorts = [self._emitter.schema.sorts[sort] for sort in over.values()]
        for bounds in product(*([Bound(s, n) for n in range(len(s.members))] for s in sorts)):
            env = dict(zip(over, bounds, strict=True))
            yield env, self._tree(text, env)

    # -- trees -----------------------------------------------------------------------------------------

    def _tree(self, text: str, env: Env) -> Value:
        own = {name: bound for name, bound in env.items() if name in names_in(text)}
        key = (text, *((name, bound.code) for name, bound in own.items()))
        if key not in self._read:
            node = truth(self._translator.node(str(self._emitter.truth(text, own))))
            self._read[key] = self.program.fold(rebuild(node, self._leaf, self._kept))
        return self._read[key]

    def _leaf(self, leaf: Node) -> Value:
        hidden = self.program.hidden
        if leaf.op == "slot" and leaf.args[0] in hidden:
            return free(hidden[leaf.args[0]])
        return leaf

    def _later(self, leaf: Node) -> Value:
        if leaf.op == "slot":
            return after(leaf.args[0])
        place = self._places.get(leaf.args[0])
        return leaf if place is None else after(place)

    def _schema(self) -> Schema:
        ground = self.program.ground
        schema, layout = ground.schema, ground.layout
        heads, sorts = layout.heads, dict(schema.sorts)
        limits = tuple(layout.limits_kmh["dry"])
        sorts["limit_name"] = Domain("limit_name", tuple("return_" if n == "return" else n for n in limits))
        sorts["class_"] = sorts["class"]
        sorts["rank"] = Domain("rank", tuple(map(str, self.kmh)))
        constants = dict(schema.constants)
        constants["before"] = Constant(
            "before",
            (sorts["head"], sorts["head"]),
            tuple(int(layout.before.get(h) == g) for h, g in product(heads, heads)),
        )
        constants["kart_class"] = Constant(
            "kart_class",
            (sorts["kart"],),
            tuple(layout.classes.index(layout.kart_class[kart]) for kart in layout.karts),
            sorts["class"],
        )
        over = {
            "aspect": ("head", "aspect"),
            "limit": ("kart", "rank"),
            "kmh": ("limit_name", "rank"),
            "class_kmh": ("class", "rank"),
        }
        outputs = {
            name: Array(name, (sorts[index],), sorts[domain]) for name, (index, domain) in over.items()
        }
        return replace(schema, sorts=sorts, constants=constants, definitions=outputs)

    def _rank(self, name: str) -> Value:
        """Give the rank of a named limit on the present surface."""
        ranks = [self.kmh.index(self.program.ground.layout.limits_kmh[s][name]) for s in ("dry", "wet")]
        return choose(equal(self._surface, 0), ranks[0], ranks[1])

    def _limit(self, number: int) -> Value:
        """Give the least of the caps that apply to a kart, as a rank."""
        ground = self.program.ground
        kart = ground.schema.sorts["kart"]
        caps = [
            (self.program.truth(cap.when, {"k": Bound(kart, number)}), cap.limit)
            for cap in ground.table.caps
            if cap.limit != "class"
        ]
        by_surface = []
        for surface in ("dry", "wet"):
            limits = ground.layout.limits_kmh[surface]
            made = self._class(number, surface)
            for when, name in sorted(caps, key=lambda cap: -limits[cap[1]]):
                rank = self.kmh.index(limits[name])
                made = _least(made, when, rank)
            by_surface.append(made)
        return choose(equal(self._surface, 0), by_surface[0], by_surface[1])

    def _class(self, number: int, surface: str) -> Value:
        layout, ground = self.program.ground.layout, self.program.ground
        limits = layout.limits_kmh[surface]
        kart = layout.karts[number]
        entry = slot(ground.index("entry", str(kart)))
        made: Value = self.kmh.index(limits[layout.kart_class[kart]])
        for place, name in enumerate(layout.classes):
            made = choose(equal(entry, place), self.kmh.index(limits[name]), made)
        return made


def _least(limit: Value, when: Value, rank: int) -> Value:
    """Give the lesser of a limit and a rank that applies under a condition."""
    if rank <= min(outcomes(limit, _none)):
        return choose(when, rank, limit)
    if isinstance(limit, int):
        return limit
    condition, yes, no = limit.args
    return choose(condition, _least(yes, when, rank), _least(no, when, rank))


def _none(place: int) -> set[int]:
    raise TypeError(place)


def _member(domain: Domain, name: str) -> Bound:
    return Bound(domain, domain.members.index(name))


def _before(program: Program, place: int) -> Value:
    if place in program.hidden:
        return free(program.hidden[place])
    return slot(place) if place in program.domains else program.start[place]
