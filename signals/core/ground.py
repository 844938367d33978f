"""Compile the rule table for one venue: every expression type-checked, unrolled, turned into functions.

Everything works on the facts vector `f` (a tuple of integers) and the definitions `d` worked out from
it. Functions of a rule take `(f, d, post, params, given, staged)`: the caller's place among the
holders, the parameters' integers in the rule's order, the truths of `schema.GIVEN`, and the staged
group's classes.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from itertools import product
from typing import Any

from signals.core.expr import BOOL, Array, Bound, Domain, Emitter, Env, TableError
from signals.core.forms import Case, Interlock, Kind, Move, Rule, Table
from signals.core.schema import GIVEN, schema_of
from signals.core.state import Layout

Facts = tuple[int, ...]
Derived = list[tuple[bool, ...]]
CALLED = (Kind.PERMISSIVE, Kind.RESTRICTIVE)
"""The kinds of rules that a person calls; the others happen."""
_HEADER = "(f, d, post, params, given, staged"


@dataclass(frozen=True, slots=True)
class GroundRule:
    """A rule compiled for a venue.

    `fails` gives the places (in `needs`) of the interlocks that refuse; `fires` the moves that apply as
    (place in the facts, move); `assign` the facts after the sets alone; `advance` after sets and moves.
    """

    rule: Rule
    needs: tuple[Interlock, ...]
    params: tuple[tuple[str, Domain], ...]
    fails: Callable[..., list[int]]
    fires: Callable[..., list[tuple[int, int]]]
    assign: Callable[..., list[int]]
    advance: Callable[..., Facts]


class Ground:
    """A table compiled for a venue."""

    def __init__(self, table: Table, layout: Layout) -> None:
        self.table = table
        self.layout = layout
        self.schema = schema_of(table, layout)
        self.emitter = Emitter(self.schema)
        self.index = cache(self._index)
        """The place of a fact's value in the vector: `index("place", "7")`."""
        self._names: dict[str, Any] = {f"R_{c.name}": c.values for c in self.schema.constants.values()}
        self._interlocks = {interlock.name: interlock for interlock in table.interlocks}
        self._witnesses: dict[tuple[str, str, int], Callable[..., bool]] = {}
        self.start = self._start()
        self.spelled = tuple(
            (name, ":".join(members), array.domain.members)
            for name, array in self.schema.facts.items()
            for members in self.each(array)
        )
        """For every place in the vector: the fact, its index, and what the values mean."""
        self.derive: Callable[[Facts], Derived] = self._derive()
        self.aspects: Callable[[Facts, Derived], tuple[int, ...]] = self._aspects()
        self.caps: Callable[[Facts, Derived], tuple[int, ...]] = self._caps()
        self.timers = self._timer_keys()
        self.running: Callable[[Facts, Derived], tuple[bool, ...]] = self._running()
        self.rules = {rule.name: self._rule(rule) for rule in table.rules}

    def _index(self, fact: str, *members: str) -> int:
        array = self.schema.facts[fact]
        numbers = tuple(sort.members.index(m) for sort, m in zip(array.over, members, strict=True))
        return int(self.emitter.place(array, numbers))

    def value(self, facts: Facts, fact: str, *members: str) -> str:
        """Give a fact's value as its member's name."""
        return self.schema.facts[fact].domain.members[facts[self.index(fact, *members)]]

    def each(self, array: Array) -> list[tuple[str, ...]]:
        """Give all index tuples of a fact, in the vector's order."""
        return list(product(*(sort.members for sort in array.over)))

    def witness(self, ground: GroundRule, interlock: Interlock, number: int) -> Callable[..., bool]:
        """Compile one case of an interlock with its witnesses as trailing arguments; kept once made."""
        key = (ground.rule.name, interlock.name, number)
        if key not in self._witnesses:
            case = interlock.cases[number]
            env = self._env(ground.rule) | {
                name: Bound(self.schema.sorts[sort], name) for name, sort in case.witness.items()
            }
            body = self.emitter.truth(case.when, env)
            text = f"def made{_HEADER}, *w):\n{_unpack(ground.rule, tuple(case.witness))} return {body}\n"
            self._witnesses[key] = self._compile(text)
        return self._witnesses[key]

    # -- compiling -----------------------------------------------------------------------------------

    def _compile(self, text: str) -> Any:
        space: dict[str, Any] = dict(self._names)
        exec(compile(text, "<rule table>", "exec"), space)  # noqa: S102 - our own table, grounded
        return space["made"]

    def _start(self) -> Facts:
        start: list[int] = []
        for fact in self.table.facts:
            array = self.schema.facts[fact.name]
            start += [int(self.emitter.value(fact.start, {}, array.domain))] * array.size
        return tuple(start)

    def _derive(self) -> Any:
        lines = ["def made(f):", " d = []"]
        for number, made in enumerate(self.table.definitions):
            sorts = {name: self.schema.sorts[sort] for name, sort in made.over.items()}
            codes = [
                self.emitter.truth(made.when, dict(zip(sorts, bounds, strict=True)))
                for bounds in product(*([Bound(s, i) for i in range(len(s.members))] for s in sorts.values()))
            ]
            lines.append(f" d.append(({', '.join(map(str, codes))},))")
            self.schema.definitions[made.name] = Array(made.name, tuple(sorts.values()), BOOL, number)
        return self._compile("\n".join([*lines, " return d", ""]))

    def _for_each(self, name: str, sort: str) -> list[Env]:
        domain = self.schema.sorts[sort]
        return [{name: Bound(domain, number)} for number in range(len(domain.members))]

    def _aspects(self) -> Any:
        codes = []
        aspect = self.schema.sorts["aspect"]
        for env in self._for_each("h", "head"):
            code = ""
            for case in self.table.shows:
                when = self.emitter.truth(case.when, env)
                if when is False:
                    continue
                value = self.emitter.value(case.aspect, env, aspect)
                code += value if when is True else f"{value} if {when} else "
                if when is True:
                    break
            codes.append(f"({code})")
        return self._compile(f"def made(f, d):\n return ({', '.join(codes)},)\n")

    def _caps(self) -> Any:
        codes = []
        for env in self._for_each("k", "kart"):
            whens = [(1 << n, self.emitter.truth(cap.when, env)) for n, cap in enumerate(self.table.caps)]
            constant = sum(bit for bit, when in whens if when is True)
            parts = [f"({bit} if {when} else 0)" for bit, when in whens if not isinstance(when, bool)]
            codes.append(" + ".join([str(constant), *parts]))
        return self._compile(f"def made(f, d):\n return ({', '.join(codes)},)\n")

    def _timer_keys(self) -> list[tuple[int, str]]:
        """Every timer of the venue as (number in the table, index or "")."""
        keys = []
        for number, timer in enumerate(self.table.timers):
            for sort in timer.over.values() or ("one",):
                keys += [(number, member if timer.over else "") for member in self.schema.sorts[sort].members]
        return keys

    def _running(self) -> Any:
        codes: list[str] = []
        for timer in self.table.timers:
            envs = self._for_each(*next(iter(timer.over.items()))) if timer.over else [{}]
            codes += [str(self.emitter.truth(timer.running, env)) for env in envs]
        return self._compile(f"def made(f, d):\n return ({', '.join(codes)},)\n")

    def _env(self, rule: Rule) -> dict[str, Bound]:
        sorts = self.schema.sorts
        caller = sorts["post" if rule.kind in CALLED else "holder"]
        return {
            "post": Bound(caller, "post"),
            "word": Bound(sorts["word"], sorts["word"].members.index(rule.word)),
            **{name: Bound(sorts[sort], name) for name, sort in rule.params.items()},
            **{name: Bound(BOOL, name) for name in GIVEN},
        }

    def needs(self, rule: Rule) -> tuple[Interlock, ...]:
        """All interlocks of a rule, with those that its kind brings along, in the order they are told."""
        names = list(rule.needs)
        if rule.kind in CALLED and rule.word not in ("stop", "caution"):
            names[:0] = ["not-authorised", "id-reused"]
        if rule.kind is Kind.PERMISSIVE:
            names[:0] = ["journal-fault", "stale-view"]
        missing = [name for name in names if name not in self._interlocks]
        if missing:
            raise TableError(f"rule {rule.name} needs {', '.join(missing)}, which the table lacks")
        return tuple(self._interlocks[name] for name in names)

    def _rule(self, rule: Rule) -> GroundRule:
        env, needs = self._env(rule), self.needs(rule)
        return GroundRule(
            rule,
            needs,
            tuple((name, self.schema.sorts[sort]) for name, sort in rule.params.items()),
            self._fails(rule, needs, env),
            self._fires(rule, env),
            self._assign(rule, env, "return n", moves=False),
            self._assign(rule, env, "return tuple(n)", moves=True),
        )

    def _fails(self, rule: Rule, needs: tuple[Interlock, ...], env: Env) -> Any:
        lines = []
        for number, interlock in enumerate(needs):
            cases = [self.emitter.truth(closed(case), env) for case in interlock.cases]
            lines += [f" if {case}: r.append({number})" for case in cases if case is not False]
        return self._function(rule, [" r = []", *lines, " return r"])

    def _moves(self, rule: Rule, env: Env) -> list[tuple[str | int, str | bool, Move, int, int]]:
        """Unroll the moves: (place, condition, move, number of the move, destination)."""
        made: list[tuple[str | int, str | bool, Move, int, int]] = []
        for number, move in enumerate(rule.moves):
            for fact, place, condition, inner in self.emitter.target(move.target, env):
                source = [fact.domain.members.index(member) for member in move.source]
                when = self.emitter.truth(move.when, inner)
                parts = [str(part) for part in (condition, when) if part is not True]
                parts.append(f"f[{place}] in ({', '.join(map(str, source))},)")
                if when is not False:
                    made.append(
                        (place, " and ".join(parts), move, number, fact.domain.members.index(move.to))
                    )
        return made

    def _fires(self, rule: Rule, env: Env) -> Any:
        lines = [
            f" if {condition}: r.append(({place}, {number}))"
            for place, condition, _, number, _ in self._moves(rule, env)
        ]
        return self._function(rule, [" r = []", *lines, " return r"])

    def _assign(self, rule: Rule, env: Env, ending: str, *, moves: bool) -> Any:
        lines = [" n = list(f)"]
        if rule.word == "restart":
            lines += self._restart_lines()
        for target, value in rule.sets.items():
            for fact, place, condition, inner in self.emitter.target(target, env):
                code = f"n[{place}] = {self.emitter.value(value, inner, fact.domain)}"
                lines.append(f" {code}" if condition is True else f" if {condition}: {code}")
        if moves:
            lines += [f" if {when}: n[{place}] = {to}" for place, when, _, _, to in self._moves(rule, env)]
        return self._function(rule, [*lines, f" {ending}"])

    def _restart_lines(self) -> list[str]:
        lines = []
        for fact in self.table.facts:
            array = self.schema.facts[fact.name]
            for indices in (
                product(*(range(len(sort.members)) for sort in array.over)) if fact.on_restart else ()
            ):
                env = {n: Bound(s, i) for n, s, i in zip("ab", array.over, indices, strict=False)}
                value = self.emitter.value(fact.on_restart, env, array.domain)
                lines.append(f" n[{self.emitter.place(array, indices)}] = {value}")
        return lines

    def _function(self, rule: Rule, lines: list[str]) -> Any:
        return self._compile("\n".join([f"def made{_HEADER}):", _unpack(rule, ()), *lines, ""]))


def _unpack(rule: Rule, witnesses: tuple[str, ...]) -> str:
    lines = [f" ({', '.join(rule.params)},) = params"] if rule.params else []
    lines += [f" ({', '.join(GIVEN)},) = given"]
    lines += [f" ({', '.join(witnesses)},) = w"] if witnesses else []
    return "\n".join(lines) + "\n"


def closed(case: Case) -> str:
    """Give a case's condition with its witnesses quantified."""
    if not case.witness:
        return case.when
    loops = " ".join(f"for {name} in {sort}" for name, sort in case.witness.items())
    return f"any({case.when} {loops})"
