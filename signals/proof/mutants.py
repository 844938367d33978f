"""The rule table made wrong on purpose, one place at a time: what no property notices is listed by name.

A mutant changes one rule. It is killed where some state that the true table reaches lets the wrong
rule break a property, in the step or in the state after it; where no such state is found, the wrong
table is explored whole. A mutant that gives the same graph (the same states by the same moves)
wherever its rule is explored, steps that change nothing aside, is no other table.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from copy import copy
from dataclasses import dataclass, replace
from enum import StrEnum

from signals.core import forms
from signals.core.forms import Rule, Table
from signals.core.ground import Ground
from signals.core.state import Layout
from signals.core.table import TABLE
from signals.core.table.depth import OF_THE_CALL
from signals.proof.columns import Columns
from signals.proof.crew import Crew
from signals.proof.live import lives
from signals.proof.nodes import Value, conj, disj, equal, negate, slot
from signals.proof.program import Move, Program, Scope
from signals.proof.scopes import SLICES, Size, all_rows, core_rows, layout_of
from signals.proof.space import Keys, Space, chunks
from signals.proof.states import CHUNK, Explorer, Found
from signals.proof.stating import Statements
from signals.words import Word

WITHOUT = ": without interlock "


@dataclass(frozen=True, slots=True)
class Mutant:
    """One change: its name, the rule it is in, and the table with it."""

    name: str
    rule: str
    table: Table
    waived: frozenset[tuple[str, str]] = frozenset()
    """(rule, interlock) that no longer refuses."""


class Fate(StrEnum):
    """What became of a mutant."""

    KILLED = "killed"
    EQUIVALENT = "equivalent"
    SURVIVED = "survived"
    UNEXPLORED = "unexplored"


@dataclass(frozen=True, slots=True)
class Verdict:
    """A mutant's fate; `by` is the property that killed it, `where` the exploration that did."""

    mutant: str
    fate: Fate
    by: str = ""
    where: str = ""


def redundant(verdicts: Iterable[Verdict]) -> dict[str, tuple[str, ...]]:
    """Give, by rule, the interlocks without which the table reaches the same (see `core.table.depth`)."""
    found: dict[str, list[str]] = {}
    for verdict in verdicts:
        rule, _, interlock = verdict.mutant.partition(WITHOUT)
        if interlock and verdict.fate is Fate.EQUIVALENT and interlock not in OF_THE_CALL:
            found.setdefault(rule, []).append(interlock)
    return {rule: tuple(sorted(interlocks)) for rule, interlocks in found.items()}


# -- making them ---------------------------------------------------------------------------------------


def mutants(ground: Ground) -> Iterator[Mutant]:
    """Give every mutant: interlocks and effects dropped, sources added and removed, destinations changed."""
    table = ground.table
    members = {fact.name: ground.schema.sorts[fact.domain].members for fact in table.facts}
    for rule in table.rules:
        for interlock in ground.needs(rule):
            waived = frozenset({(rule.name, interlock.name)})
            yield Mutant(f"{rule.name}{WITHOUT}{interlock.name}", rule.name, table, waived)
        for changed, said in _changes(rule, members):
            rules = tuple(changed if each is rule else each for each in table.rules)
            yield Mutant(f"{rule.name}: {said}", rule.name, replace(table, rules=rules))
    for fact in table.facts:
        if fact.on_restart:
            facts = tuple(replace(each, on_restart="") if each is fact else each for each in table.facts)
            yield Mutant(f"restart: {fact.name} stays", "restart", replace(table, facts=facts))


def _changes(rule: Rule, members: dict[str, tuple[str, ...]]) -> Iterator[tuple[Rule, str]]:
    for phase in members["phase"] if rule.phases else ():
        if phase not in rule.phases:
            yield replace(rule, phases=(*rule.phases, phase)), f"also from {phase}"
        elif len(rule.phases) > 1:
            yield replace(rule, phases=tuple(p for p in rule.phases if p != phase)), f"not from {phase}"
    for target in rule.sets:
        kept = {each: value for each, value in rule.sets.items() if each != target}
        yield replace(rule, sets=kept), f"without setting {target}"
    for number, move in enumerate(rule.moves):
        for changed, said in _moves(move, members[move.target.partition("[")[0]]):
            yield replace(rule, moves=(*rule.moves[:number], *changed, *rule.moves[number + 1 :])), said


def _moves(move: forms.Move, members: tuple[str, ...]) -> Iterator[tuple[tuple[forms.Move, ...], str]]:
    told = f"{move.target} to {move.to}"
    yield (), f"without moving {told}"
    for member in members:
        if member not in move.source and member != move.to:
            yield (replace(move, source=(*move.source, member)),), f"also moving {told} from {member}"
        elif member in move.source and len(move.source) > 1:
            kept = tuple(source for source in move.source if source != member)
            yield (replace(move, source=kept),), f"not moving {told} from {member}"
        if member != move.to:
            yield (replace(move, to=member),), f"moving {told} to {member} instead"


# -- trying them ---------------------------------------------------------------------------------------


class Court:
    """One exploration of the true table, in which mutants of its rules are tried.

    Args:
        name: how verdicts call it.
        layout: the venue.
        scope: what of the table is taken along.
        table: the true table.
        most: stop after so many states; such a court kills, and says nothing of what it lets live.

    Attributes:
        program: the true table's program; every state it reaches is known.
        statements: what its moves could break.

    """

    def __init__(
        self, name: str, layout: Layout, scope: Scope, table: Table = TABLE, *, most: int | None = None
    ) -> None:
        self.name = name
        self.ground = Ground(table, layout)
        self.scope = scope
        self.program = Program(self.ground, scope)
        self.statements = Statements(self.program)
        self._breaches = list(self.statements.breaches())
        self._space = Space(self.program)
        found = Explorer(self.program, workers=1).run(most=most)
        self._known = self._columns(found.keys)
        self._whole = found.complete
        self._most = most
        self._rule = ""
        self._apart: list[Columns] = []

    def hears(self, rule: str) -> bool:
        """Whether a rule is taken along here."""
        return rule not in self.scope.without

    def _columns(self, keys: Keys) -> list[Columns]:
        return [self._space.columns(part) for part in chunks(keys, CHUNK)]

    def try_one(self, mutant: Mutant) -> tuple[Fate, str]:
        """Give a mutant's fate here, and the property that killed it."""
        rule = next(rule for rule in mutant.table.rules if rule.name == mutant.rule)
        moves = self.program.variant(rule, mutant.table, mutant.waived)
        if moves is not None and (name := self._broken(mutant, moves)):
            return Fate.KILLED, name
        if not self._whole:
            return Fate.UNEXPLORED, ""
        if moves is not None and not _differ(self._moves(mutant.rule), moves, self._known):
            return Fate.EQUIVALENT, ""
        return self._explored(mutant, moves)

    def _moves(self, rule: str) -> list[Move]:
        return [move for move in self.program.moves if move.rule.name == rule]

    def _broken(self, mutant: Mutant, moves: Sequence[Move]) -> str:
        """Look for a state, surely the mutant's too, in which its own moves break something.

        The mutant's are all known states if it only refuses less, else those reached without its rule.
        """
        states = self._known if mutant.waived else self._without(mutant.rule)
        for move in moves:
            for breach in self.statements.against(move):
                if _anywhere(states, [breach.tree]):
                    return breach.name
        return ""

    def _without(self, rule: str) -> list[Columns]:
        if self._rule != rule:
            apart = copy(self.program)
            apart.moves = [move for move in self.program.moves if move.rule.name != rule]
            found = Explorer(apart, workers=1).run(most=self._most)
            self._rule, self._apart = rule, self._columns(found.keys)
        return self._apart

    def _explored(self, mutant: Mutant, moves: Sequence[Move] | None) -> tuple[Fate, str]:
        """Explore the wrong table whole; give what becomes of the mutant, and the property it breaks."""
        if moves is None:
            wrong = Program(self.ground, self.scope, mutant.table, mutant.waived)
            statements = Statements(wrong)
            breaches = list(statements.breaches())
        else:
            wrong, statements = copy(self.program), self.statements
            wrong.moves = [*(m for m in wrong.moves if m.rule.name != mutant.rule), *moves]
            breaches = [b for b in self._breaches if b.move is None or b.move.rule.name != mutant.rule]
            breaches += [breach for move in moves for breach in self.statements.against(move)]
        explorer = Explorer(wrong, breaches, workers=1)
        found = explorer.run(until_broken=True)
        if found.broken:
            return Fate.KILLED, found.broken[0].breach.name
        dead = next((name for name, stuck in lives(explorer, statements, found) if len(stuck)), "")
        if dead:
            return Fate.KILLED, dead
        if moves is None and self._like_the_true(mutant.rule, wrong, found):
            return Fate.EQUIVALENT, ""
        return Fate.SURVIVED, ""

    def _like_the_true(self, rule: str, wrong: Program, found: Found) -> bool:
        """Whether a wrong table that names more values than the true one never gives them.

        The true rule is put into the wrong program: where no state that is reached there has another
        way on by it, the two graphs are one.
        """
        true = next(each for each in self.ground.table.rules if each.name == rule)
        moves = wrong.variant(true, self.ground.table, frozenset())
        theirs = [move for move in wrong.moves if move.rule.name == rule]
        space = Space(wrong)
        reached = [space.columns(part) for part in chunks(found.keys, CHUNK)]
        return moves is not None and not _differ(moves, theirs, reached)


def _differ(true: Sequence[Move], wrong: Sequence[Move], states: Sequence[Columns]) -> bool:
    """Whether one of these states has another way on by the one rule than by the other."""
    mine, theirs = ({move.name: move for move in moves} for moves in (true, wrong))
    return _anywhere(states, [_unlike(mine.get(name), theirs.get(name)) for name in mine | theirs])


def _unlike(mine: Move | None, theirs: Move | None) -> Value:
    """Give where two moves of one name are not the same."""
    if mine is None or theirs is None:
        return disj([_acts(mine), _acts(theirs)])
    places = dict(mine.updates).keys() | dict(theirs.updates).keys()
    apart = [
        negate(equal(dict(mine.updates).get(p, slot(p)), dict(theirs.updates).get(p, slot(p))))
        for p in places
    ]
    only_mine = conj([_acts(mine), negate(theirs.guard)])
    only_theirs = conj([_acts(theirs), negate(mine.guard)])
    return disj([only_mine, only_theirs, conj([mine.guard, theirs.guard, disj(apart)])])


def _acts(move: Move | None) -> Value:
    """Give where a move is open and changes something."""
    if move is None:
        return 0
    return conj([move.guard, disj([negate(equal(value, slot(place))) for place, value in move.updates])])


def _anywhere(states: Sequence[Columns], trees: Sequence[Value]) -> bool:
    """Whether one of some conditions holds in one of some states."""
    for columns in states:
        hit = any(columns.true(tree).any() for tree in trees if tree != 0)
        columns.forget()
        if hit:
            return True
    return False


POWERLESS_STATES = 20_000
"""Enough for every rule to be open somewhere; what it lets live is for the others to judge."""


def courts(table: Table = TABLE) -> list[Court]:
    """Give where mutants are tried, the smallest first."""
    small = [(f"core rows, {size}", size) for size in (Size(1, 1, 2), Size(2, 1, 1), Size(1, 2, 1))]
    made = [Court(name, layout_of(size), core_rows(layout_of(size)), table) for name, size in small]
    slices = [Court(each.name, each.layout(), each.scope(table), table) for each in SLICES]
    powerless = layout_of(Size(1, 1, 2), may={"desk": frozenset(map(str, Word)), "p1": frozenset()})
    return [
        Court("a post that may nothing", powerless, all_rows(), table, most=POWERLESS_STATES),
        *made[:1],
        *slices,
        *made[1:],
    ]


def try_one(mutant: Mutant, where: Sequence[Court]) -> Verdict:
    """Try a mutant wherever its rule is explored, until it is killed."""
    lived: dict[Fate, list[str]] = {fate: [] for fate in Fate}
    for court in (court for court in where if court.hears(mutant.rule)):
        fate, by = court.try_one(mutant)
        if fate is Fate.KILLED:
            return Verdict(mutant.name, fate, by, court.name)
        lived[fate].append(court.name)
    fate = next((fate for fate in (Fate.SURVIVED, Fate.EQUIVALENT) if lived[fate]), Fate.UNEXPLORED)
    return Verdict(mutant.name, fate, where="; ".join(lived[fate]))


def try_all(
    *,
    workers: int,
    only: Callable[[Mutant], bool] = lambda _: True,
    progress: Callable[[int, int], None] = lambda _done, _all: None,
) -> list[Verdict]:
    """Try every mutant of the table, the rules shared out among processes."""
    where = courts()
    todo = [mutant for mutant in mutants(where[0].ground) if only(mutant)]
    verdicts: list[Verdict] = []
    rules = sorted({mutant.rule for mutant in todo})
    with Crew(lambda rule: [try_one(m, where) for m in todo if m.rule == rule], workers) as crew:
        for part in crew.share(rules):
            verdicts += part
            progress(len(verdicts), len(todo))
    return verdicts
