"""The rule table grounded for one venue as a finite program: slots, moves with guards, outputs.

Every reader starts here: the explorer, the checkers' models, the solver. The table's own emitter
unrolls every expression, so there is one reading of the table's language; what differs from reader
to reader is only what is done with the trees.

Abstractions, all of them wider than the running system:

- A timer that runs may expire at any moment.
- Facts that only mirror what equipment reports (`observed`) are not stored: every move may find them
  with any value. What must follow from a report is then a property of the move that reports it.
- Truths that come with a call (checked, with a reason …) take any value, and every post may call.
- What stands beside the facts (ids, names, times) is left out; `stale`, `reused`, `barred` stand for it.
"""

from __future__ import annotations

import ast
from collections.abc import Callable, Collection, Iterator, Mapping
from copy import copy
from dataclasses import dataclass, field
from functools import cache, partial
from itertools import product

from signals.core.expr import BOOL, Bound, Domain, Env, Truth, parse
from signals.core.forms import Rule, Table
from signals.core.ground import CALLED, Ground, closed
from signals.core.machines import Machines
from signals.core.schema import GIVEN
from signals.proof.nodes import (
    Leaf,
    Node,
    Same,
    Translator,
    Value,
    choose,
    conj,
    disj,
    equal,
    free,
    negate,
    outcomes,
    rebuild,
    slot,
    truth,
)


@dataclass(frozen=True, slots=True)
class Slot:
    """One stored value: its place in the facts vector, the fact and its index, the domain's members."""

    place: int
    fact: str
    index: tuple[str, ...]
    members: tuple[str, ...]
    start: int

    @property
    def name(self) -> str:
        """The fact with its index, as the table writes it."""
        return f"{self.fact}[{', '.join(self.index)}]" if self.index else self.fact


@dataclass(frozen=True, slots=True)
class Asking:
    """One caller's way to a move: the guard still reads the truths and observed facts as free names."""

    post: str
    guard: Value


@dataclass(frozen=True, slots=True)
class Move:
    """A rule with everything its effect depends on. `guard`: some caller with some truths may make it."""

    rule: Rule
    names: Mapping[str, str]
    guard: Value
    updates: tuple[tuple[int, Value], ...]
    """What every place becomes, in terms of the state before; places not named stay."""
    asked: tuple[Asking, ...]
    reports: tuple[tuple[int, Value], ...] = ()
    """What facts that are not stored become; only properties of the step read it."""

    @property
    def name(self) -> str:
        """The rule and its names, as a trace tells them."""
        told = (
            (word if member == "true" else f"not-{word}") if member in BOOL.members else f"{word}={member}"
            for word, member in self.names.items()
        )
        return " ".join([self.rule.name, *told])


@dataclass(frozen=True, slots=True)
class Scope:
    """What is taken along: rules left out by name, parameter values left out, facts set at the start."""

    without: frozenset[str] = frozenset()
    values: Mapping[str, frozenset[str]] = field(default_factory=dict)
    """"rule.parameter" -> the members it may take; all where it is not named."""
    start: Mapping[str, str] = field(default_factory=dict)
    inputs: frozenset[str] = frozenset({"link", "taken", "moving", "input"})
    """Facts that are not stored: every move may find them with any value."""
    whole_groups: bool = False
    """Whether only the whole field is staged, each kart in its own class."""
    by_machines: bool = False
    """Whether constant moves are made by the `transitions` machines instead of by the table's word."""


class Program:
    """A ground table as trees.

    Args:
        ground: the venue's names, relations and the emitter of the table's language.
        scope: what is taken along.
        table: another table over the same names, such as a mutant; the ground's by default.
        waived: (rule, interlock) pairs that do not refuse.

    Attributes:
        slots: every stored value, by place in the facts vector.
        hidden: place -> name, of the facts that are not stored.
        start: the value of every place at the beginning (observed ones too).
        moves: everything that may happen, with folded guards; what can never happen is left out.
        domains: for every place, the values it may ever take.
        aspects: for every head, the value it is to show (the venue's heads in order).
        definitions: name of the definition -> the trees of its indices, for readers that name them.

    """

    def __init__(
        self,
        ground: Ground,
        scope: Scope,
        table: Table | None = None,
        waived: frozenset[tuple[str, str]] = frozenset(),
    ) -> None:
        self.ground = ground
        self.scope = scope
        self.table = table or ground.table
        self.waived = waived
        self._machines = Machines(ground.table, ground.schema)
        self.hidden = {
            array.base + number: f"{name}[{', '.join(index)}]"
            for name, array in ground.schema.facts.items()
            if name in scope.inputs
            for number, index in enumerate(ground.each(array))
        }
        self._frees: dict[Value, Value] = {}
        made: list[list[Value]] = []
        self.translator = Translator({"f": slot}, {"d": made})
        self._parsed: dict[tuple[object, ...], Value] = {}
        self.start = self._start()
        for definition in ground.table.definitions:
            sorts = [ground.schema.sorts[sort] for sort in definition.over.values()]
            made.append(
                [
                    self.truth(definition.when, dict(zip(definition.over, bounds, strict=True)))
                    for bounds in product(*([Bound(s, n) for n in range(len(s.members))] for s in sorts))
                ]
            )
        self.definitions = {d.name: trees for d, trees in zip(ground.table.definitions, made, strict=True)}
        self.aspects = self._aspects()
        everything = [move for rule in self.table.rules for move in self.moves_of(rule)]
        self._folds: dict[Value, Value] = {}
        self.moves = self._reachable(everything)
        self.slots = [self._slot(place) for place in sorted(self.domains)]

    # -- trees from the table's text -------------------------------------------------------------------

    def truth(self, text: str, env: Env) -> Value:
        """Give a condition's tree with every name of `env` bound to a number or a free name."""
        return truth(self._tree(text, env, partial(self._emitted, text)))

    def _emitted(self, text: str, env: Env) -> str:
        return str(self.ground.emitter.truth(text, env))

    def _tree(self, text: str, env: Env, emit: Callable[[Env], str]) -> Value:
        own = {name: bound for name, bound in env.items() if name in names_in(text)}
        key = (text, *((name, bound.code) for name, bound in own.items()))
        if key not in self._parsed:
            node = self.translator.node(emit(own))
            self._parsed[key] = rebuild(node, self._leaf, self._frees)
        return self._parsed[key]

    def _leaf(self, leaf: Node) -> Value:
        """Give an observed fact as a free value."""
        place = leaf.args[0]
        return free(self.hidden[place]) if leaf.op == "slot" and place in self.hidden else leaf

    def _start(self) -> tuple[int, ...]:
        start = list(self.ground.start)
        for name, member in self.scope.start.items():
            array = self.ground.schema.facts[name]
            for number in range(array.size):
                start[array.base + number] = array.domain.members.index(member)
        return tuple(start)

    def _slot(self, place: int) -> Slot:
        for name, array in self.ground.schema.facts.items():
            if array.base <= place < array.base + array.size:
                index = self.ground.each(array)[place - array.base]
                return Slot(place, name, index, array.domain.members, self.start[place])
        raise IndexError(place)

    def _aspects(self) -> list[Value]:
        aspect, head = self.ground.schema.sorts["aspect"], self.ground.schema.sorts["head"]
        made: list[Value] = []
        for number in range(len(head.members)):
            env = {"h": Bound(head, number)}
            shown: Value = 0
            for case in reversed(self.ground.table.shows):
                emit = partial(self.ground.emitter.value, case.aspect, domain=aspect)
                value = self._tree(f"{case.aspect} ", env, emit)
                shown = choose(self.truth(case.when, env), value, shown)
            made.append(shown)
        return made

    # -- moves -----------------------------------------------------------------------------------------

    def moves_of(self, rule: Rule) -> Iterator[Move]:
        """Give everything a rule may do, before folding."""
        if rule.name in self.scope.without:
            return
        sorts = self.ground.schema.sorts
        members = {name: sorts[sort].members for name, sort in rule.params.items()}
        choices = [
            [n for n, member in enumerate(members[name]) if self._allowed(rule.name, name, member)]
            for name in rule.params
        ]
        holders = sorts["holder"]
        posts = range(len(holders.members) - 1) if rule.kind in CALLED else [len(holders.members) - 1]
        own_post = _reads_name(rule, "post")
        for numbers in product(*choices):
            env: dict[str, Bound] = {
                "word": Bound(sorts["word"], sorts["word"].members.index(rule.word)),
                **{name: Bound(BOOL, name) for name in GIVEN},
                **{
                    name: Bound(sorts[sort], number)
                    for (name, sort), number in zip(rule.params.items(), numbers, strict=True)
                },
            }
            names = {name: members[name][number] for name, number in zip(rule.params, numbers, strict=True)}
            callers = [{"post": Bound(sorts["post" if rule.kind in CALLED else "holder"], n)} for n in posts]
            for group in [[caller] for caller in callers] if own_post else [callers]:
                called = {"post": holders.members[int(group[0]["post"].code)]} if own_post else {}
                yield from self._ways(rule, names | called, [env | caller for caller in group])

    def _ways(self, rule: Rule, names: dict[str, str], envs: list[dict[str, Bound]]) -> Iterator[Move]:
        """Give a move for every value of the free names that its effects read."""
        updates = self._updates(rule, envs[0])
        asked = [
            Asking(self.ground.schema.sorts["holder"].members[int(env["post"].code)], self._guard(rule, env))
            for env in envs
        ]
        read = sorted({str(leaf[1]) for _, value in updates if isinstance(value, Node) for leaf in value.reads
                       if leaf[0] == "free"})  # fmt: skip
        for values in product(*(self._choices(rule, name) for name in read)):
            given = dict(zip(read, values, strict=True))
            bind = binder(given)
            kept: dict[Value, Value] = {}
            mine = tuple(Asking(a.post, rebuild(a.guard, bind, kept)) for a in asked)
            guard = disj([exists(a.guard) for a in mine])
            if guard == 0 and all(a.guard == 0 for a in mine):
                continue
            told = {name: self._told(name, value) for name, value in given.items()}
            yield Move(
                rule,
                names | told,
                guard,
                tuple((place, rebuild(value, bind, kept)) for place, value in updates),
                mine,
            )

    def _told(self, name: str, value: int) -> str:
        if name.startswith("staged["):
            return self.ground.schema.sorts["entry"].members[value]
        return BOOL.members[value]

    def _choices(self, rule: Rule, name: str) -> list[int]:
        """Give the values a free name takes: the classes of a staged group, or both truths."""
        if not name.startswith("staged["):
            return [0, 1]
        layout = self.ground.layout
        kart = layout.karts[int(name[len("staged[") : -1])]
        if self.scope.whole_groups:
            return [layout.classes.index(layout.kart_class[kart])]
        entries = self.ground.schema.sorts["entry"].members
        return [n for n, member in enumerate(entries) if self._allowed(rule.name, "staged", member)]

    def _allowed(self, rule: str, name: str, member: str) -> bool:
        allowed = self.scope.values.get(f"{rule}.{name}")
        return allowed is None or member in allowed

    def _guard(self, rule: Rule, env: Env) -> Value:
        terms: list[Value] = []
        if rule.phases:
            terms.append(self.truth(f"phase in ({', '.join(rule.phases)},)", env))
        for interlock in self.ground.needs(rule):
            if (rule.name, interlock.name) in self.waived:
                continue
            terms += [negate(self.truth(closed(case), env)) for case in interlock.cases]
        for timer in self.table.timers:
            if timer.then == rule.word:
                terms.append(self.truth(timer.running, env))
        return conj(terms)

    def _updates(self, rule: Rule, env: dict[str, Bound]) -> list[tuple[int, Value]]:
        made: dict[int, Value] = {}
        emitter, facts = self.ground.emitter, self.ground.schema.facts

        def assign(place: int, condition: Value, value: Value) -> None:
            made[place] = choose(condition, value, made.get(place, slot(place)))

        if rule.word == "restart":
            for stored in self.table.facts:
                array = facts[stored.name]
                for number, index in enumerate(product(*(range(len(s.members)) for s in array.over))):
                    if stored.on_restart:
                        at = {n: Bound(s, i) for n, s, i in zip("ab", array.over, index, strict=False)}
                        assign(array.base + number, 1, self._value(stored.on_restart, at, array.domain))
        for target, text in rule.sets.items():
            for fact, place, condition, inner in emitter.target(target, env):
                assign(int(place), self._condition(condition), self._value(text, inner, fact.domain))
        for number, move in enumerate(rule.moves):
            for fact, place, condition, inner in emitter.target(move.target, env):
                when = conj([self._condition(condition), self.truth(move.when, inner)])
                for source in move.source:
                    here = conj([when, equal(self._here(int(place)), fact.domain.members.index(source))])
                    to = self._to(rule, number, source)
                    assign(int(place), here, fact.domain.members.index(to))
        return list(made.items())

    def _here(self, place: int) -> Value:
        return self._leaf(slot(place))

    def _to(self, rule: Rule, number: int, source: str) -> str:
        """Give where a constant move leads: by the table's word, or by letting its machine make it."""
        move = rule.moves[number]
        if not self.scope.by_machines:
            return move.to
        return self._machines.move(move.target.partition("[")[0], source, rule.name, number)

    def _condition(self, code: Truth) -> Value:
        if isinstance(code, bool):
            return int(code)
        return rebuild(truth(self.translator.node(code)), self._leaf, self._frees)

    def _value(self, text: str, env: Env, domain: Domain) -> Value:
        code = self.ground.emitter.value(text, env, domain)
        return rebuild(self.translator.node(code), self._leaf, self._frees)

    # -- what may ever be ------------------------------------------------------------------------------

    def _reachable(self, moves: list[Move]) -> list[Move]:
        """Fold away what never changes: places that keep their first value, moves that never apply.

        An over-estimate, without exploring: every update is taken whatever its guard says.
        """
        domains = {place: {value} for place, value in enumerate(self.start)}
        grown = True
        while grown:
            grown = False
            kept: dict[Value, Value] = {}
            narrow = narrower(domains)
            for move in moves:
                if rebuild(move.guard, _same_leaf, kept, narrow) == 0:
                    continue
                for place, value in move.updates:
                    if place in self.hidden:
                        continue
                    taken = rebuild(value, _same_leaf, kept, narrow)
                    new = outcomes(taken, domains.__getitem__) - domains[place]
                    if new:
                        domains[place] |= new
                        grown = True
        self.domains = {place: sorted(values) for place, values in domains.items() if len(values) > 1}
        self._narrow = narrower(domains)
        self.aspects = [self.fold(value) for value in self.aspects]
        self.definitions = {
            name: [self.fold(value) for value in trees] for name, trees in self.definitions.items()
        }
        folded = (self.folded(move) for move in moves)
        return [move for move in folded if move.guard != 0]

    def fold(self, value: Value) -> Value:
        """Put in what never changes, and leave out comparisons that never hold."""
        return rebuild(value, self._constant, self._folds, self._narrow)

    def _constant(self, leaf: Node) -> Value:
        place = leaf.args[0]
        return self.start[place] if leaf.op == "slot" and place not in self.domains else leaf

    def variant(self, rule: Rule, table: Table, waived: frozenset[tuple[str, str]]) -> list[Move] | None:
        """Give one rule's moves as another table has them; None where they lead out of the known values."""
        other = copy(self)
        other.table, other.waived = table, waived
        moves = [self.folded(move) for move in other.moves_of(rule)]
        for move in moves:
            for place, value in move.updates:
                if place not in self.domains or not outcomes(value, self._known) <= self._known(place):
                    return None
        return [move for move in moves if move.guard != 0]

    def _known(self, place: int) -> set[int]:
        return set(self.domains[place])

    def _moves(self, place: int, value: Value) -> bool:
        """Whether an update changes anything: a place that is never changed keeps its first value."""
        return value is not slot(place) if place in self.domains else value != self.start[place]

    def folded(self, move: Move) -> Move:
        """Give a move with what never changes put in."""
        made = [(place, self.fold(value)) for place, value in move.updates]
        return Move(
            move.rule,
            move.names,
            self.fold(move.guard),
            tuple(
                (place, value)
                for place, value in made
                if place not in self.hidden and self._moves(place, value)
            ),
            tuple(Asking(a.post, self.fold(a.guard)) for a in move.asked),
            tuple((place, value) for place, value in made if place in self.hidden),
        )


def _same_leaf(leaf: Node) -> Value:
    return leaf


def narrower(domains: Mapping[int, Collection[int]]) -> Same:
    """Give a comparison that knows the values slots take; of two values, only the lesser is spoken of."""

    def same(left: Value, right: Value) -> Value:
        for leaf, number in ((left, right), (right, left)):
            if isinstance(leaf, Node) and leaf.op == "slot" and isinstance(number, int):
                values = domains[leaf.args[0]]
                if number not in values:
                    return 0
                if len(values) == 1:
                    return 1
                if len(values) == 2 and number == max(values):  # noqa: PLR2004 - the other one of two
                    return negate(equal(leaf, min(values)))
        return equal(left, right)

    return same


def exists(value: Value) -> Value:
    """Give whether a tree can be made true by some values of its free names (each a truth)."""
    while isinstance(value, Node):
        names = sorted(str(leaf[1]) for leaf in value.reads if leaf[0] == "free")
        if not names:
            break
        value = disj([rebuild(value, binder({names[0]: way}), {}) for way in (1, 0)])
    return value


def binder(given: Mapping[str, int]) -> Leaf:
    """Give what puts values in for free names."""

    def bind(leaf: Node) -> Value:
        return given.get(leaf.args[0], leaf) if leaf.op == "free" else leaf

    return bind


@cache
def names_in(text: str) -> frozenset[str]:
    """Give every name in a text of the table's language."""
    return frozenset(node.id for node in ast.walk(parse(text.strip())) if isinstance(node, ast.Name))


def _reads_name(rule: Rule, name: str) -> bool:
    texts = [*rule.sets, *rule.sets.values(), *(move.when for move in rule.moves)]
    return any(name in _words(text) for text in texts)


def _words(text: str) -> set[str]:
    return set("".join(c if c.isalnum() or c == "_" else " " for c in text).split())
