"""What is to be asked so that a venue's properties hold by induction, and z3 asked.

- Clauses on facts alone, and the strengthenings of `invariants`, are the hypothesis: the initial state
  satisfies them, and no move leads out of them.
- Clauses on what is due (aspects, limits) must follow from the hypothesis in any one state.
- Clauses on steps are asked of every move they speak of. One that holds wherever nothing changes is
  asked only of moves that touch what it reads of the state after.
- Karts that no relation of the venue tells apart are one: of moves, and of the karts a clause speaks
  of besides the move's own, the first of each such group stands for all. The table and the
  properties name no kart, so a swap that keeps every relation keeps them; the one relation that orders
  karts (`earlier`) is shown to make no difference where it is used.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import cache, partial
from itertools import pairwise

from signals.core.expr import Bound, TableError
from signals.core.forms import Rule, Table
from signals.core.ground import Ground
from signals.core.schema import GIVEN
from signals.core.state import Layout
from signals.errors import Unusable
from signals.proof.encoding import Z3, Encoding
from signals.proof.nodes import Node, Value, after, conj, disj, negate, rebuild, slot
from signals.proof.program import Move, exists, names_in
from signals.proof.properties import ENABLED, STATE, STEPS, Clause, Property
from signals.proof.steps import Counterexample, Item, Naming, Step, Wrong, karts_of, touch
from signals.proof.symbolic import (
    Piece,
    Symbolic,
    Symbolics,
    alike,
    one_of_each,
    ordered,
    pieces,
    plain_names,
    swapped,
    told_apart,
)

OUTPUTS = frozenset({"aspect", "limit"})
BATCH = 16
"""How many moves z3 is asked about at once, at most; what they touch together must stay few."""


class Induction:
    """One venue's table and the properties, ready to be asked about.

    Attributes:
        moves: what may happen, one of each orbit, with what comes with a call kept open.
        queries: how often z3 was asked.

    """

    def __init__(self, layout: Layout, table: Table, invariants: Sequence[Property]) -> None:
        self.ground = Ground(table, layout)
        self.groups: list[tuple[str, ...]] = alike(self.ground)
        self.program = Symbolic(self.ground, one_of_each(self.ground, self.groups))
        self.statements = Symbolics(self.program)
        self.moves = self.program.moves
        widest = max(len(array.domain.members) for array in self.ground.schema.facts.values())
        self.encoding = Encoding(max(widest, len(self.statements.kmh)).bit_length())
        self.solver = self.encoding.z3.SolverFor("QF_FD")
        self.queries = 0
        self._sorts = {name: sort.members for name, sort in self.statements.sorts.items()}
        self._laters: dict[Value, Value] = {}
        self._sooners: dict[Value, Value] = {}
        params = {name for rule in table.rules for name in rule.params}
        self._of_move = params | {*GIVEN, "post", "word", "changes"}
        self._clauses = [(p, n, c) for p in (*invariants, *STATE, *STEPS) for n, c in enumerate(p.clauses)]
        self._check_order()
        self._assume()
        self._fixed = [
            item for p, n, c in self._clauses if not self._named(c) for item in self._items(p, n, c)
        ]
        self._namings: dict[tuple[str, frozenset[str]], list[Naming]] = {}
        self.fixed = cache(self._fixed_for)

    def _on_facts(self, clause: Clause) -> bool:
        return clause.of_states and not names_in(clause.when) & OUTPUTS

    def _named(self, clause: Clause) -> bool:
        """Whether a clause names the move's parameters, caller or truths, or is no matter of moves at all."""
        if clause.of_states:
            return not self._on_facts(clause)
        return bool(plain_names(clause.when) & self._of_move)

    def _check_order(self) -> None:
        """Raise TableError where the order of karts that are alike makes a difference."""
        for text in ordered(self.ground.table):
            told = self.program.truth(text, {})
            for group in self.groups:
                for pair in pairwise(group):
                    moved = swapped(self.ground, *pair)
                    other = rebuild(told, partial(_moved, moved), {})
                    differ = disj([conj([told, negate(other)]), conj([negate(told), other])])
                    if self._model(self.encoding.condition(differ)) is not None:
                        raise TableError(
                            f"{text!r}: the order of karts {pair[0]} and {pair[1]} makes a difference"
                        )

    def _assume(self) -> None:
        """Assert the hypothesis, and what the unknowns range over."""
        encoding, layout = self.encoding, self.ground.layout
        bounds = [
            (encoding.leaf("slot", place), len(domain) - 1) for place, domain in self.program.domains.items()
        ]
        bounds += [(encoding.leaf("free", name), 1) for name in GIVEN]
        bounds += [
            (encoding.leaf("free", f"staged[{n}]"), len(layout.classes)) for n in range(len(layout.karts))
        ]
        self.solver.add([encoding.z3.ULE(leaf, most) for leaf, most in bounds])
        hypothesis = [self._whole(clause) for _, _, clause in self._clauses if self._on_facts(clause)]
        self.solver.add([encoding.condition(tree) for tree in hypothesis])

    def _whole(self, clause: Clause) -> Value:
        return self.statements.tree(clause.when, {})

    # -- clauses as items --------------------------------------------------------------------------------

    def _items(self, prop: Property, number: int, clause: Clause) -> Iterator[Item]:
        made = []
        for piece in pieces(clause.when, self._sorts):
            tree = self.statements.tree(piece.text, self._env(piece))
            made.append((piece, rebuild(tree, _later, self._laters) if clause.of_states else tree))
        still = clause.of_states or self._holds_still(
            [tree for piece, tree in made if told_apart(piece, frozenset(), self.groups)]
        )
        for piece, tree in made:
            yield Item(prop.name, number, clause, piece, tree, touch(tree), still)

    def _holds_still(self, trees: Sequence[Value]) -> bool:
        """Whether conditions on steps hold wherever nothing changes."""
        wrong = disj([negate(rebuild(tree, _sooner, self._sooners)) for tree in trees])
        return wrong == 0 or self._model(self.encoding.condition(wrong)) is None

    def _env(self, piece: Piece) -> dict[str, Bound]:
        sorts = self.statements.sorts
        return {
            name: Bound(sorts[sort], sorts[sort].members.index(m)) for name, (sort, m) in piece.bound.items()
        }

    def _naming_for(self, rule: Rule, karts: frozenset[str]) -> list[Naming]:
        """Give the clauses that name a rule's moves, with their pieces, one of each orbit."""
        found = []
        for prop, number, clause in self._clauses:
            if not clause.of_states and clause.speaks_of(rule) and self._named(clause):
                of_callers = bool(plain_names(clause.when) & {*GIVEN, "post"})
                made = pieces(clause.when, self._sorts, over="kart")
                made = [piece for piece in made if told_apart(piece, karts, self.groups)]
                found.append(Naming(prop.name, number, of_callers, tuple((p, self._env(p)) for p in made)))
        return found

    def naming(self, rule: Rule, karts: frozenset[str]) -> list[Naming]:
        """Give the same, worked out once."""
        key = (rule.name, karts)
        if key not in self._namings:
            self._namings[key] = self._naming_for(rule, karts)
        return self._namings[key]

    def _fixed_for(self, karts: frozenset[str]) -> list[Item]:
        """Give the items that name no move, one of each orbit under the swaps that keep some karts."""
        return [item for item in self._fixed if item.tree != 1 and told_apart(item.piece, karts, self.groups)]

    # -- asking ------------------------------------------------------------------------------------------

    def _model(self, *when: Z3) -> Z3 | None:
        """Ask whether conditions and the hypothesis hold together: None, or a state and a move."""
        self.queries += 1
        self.solver.push()
        self.solver.add(when)
        answer = self.solver.check()
        if answer == self.encoding.z3.unknown:
            raise Unusable(f"z3 gave up: {self.solver.reason_unknown()}")
        found = self.solver.model() if answer == self.encoding.z3.sat else None
        self.solver.pop()
        return found

    def start(self) -> Iterator[Counterexample]:
        """Give the clauses on facts that the initial state breaks; raises TableError where z3 sees others."""
        start, kept = self.program.start, dict[Value, Value]()
        broken = [
            Counterexample(prop.name, number, "the initial state", "", {}, {})
            for prop, number, clause in self._clauses
            if self._on_facts(clause)
            and rebuild(self._whole(clause), lambda leaf: start[leaf.args[0]], kept) != 1
        ]
        begun = [self.encoding.leaf("slot", place) == start[place] for place in self.program.domains]
        if (self._model(*begun) is None) is not bool(broken):
            raise TableError("z3 and the trees do not agree on whether the hypothesis holds at the start")
        yield from broken

    def consequences(self) -> Iterator[Counterexample]:
        """Give the clauses on what is due that do not follow from the hypothesis."""
        for prop, number, clause in self._clauses:
            if clause.of_states and not self._on_facts(clause):
                for piece in pieces(clause.when, self._sorts):
                    if told_apart(piece, frozenset(), self.groups):
                        tree = self.statements.tree(piece.text, self._env(piece))
                        when = self.encoding.condition(negate(tree))
                        wrong = Wrong(prop.name, number, piece, when, frozenset())
                        if tree != 1 and self._model(wrong.when) is not None:
                            yield self._told(wrong, None)
                            break

    def open_calls(self) -> Iterator[Counterexample]:
        """Give the calls that must always be open and are not."""
        for always in ENABLED:
            phases = f"phase in ({', '.join(always.phases)},)" if always.phases else "True"
            due = self.statements.tree(f"{phases} and ({always.when})", {})
            for move in self.moves:
                everybody = always.rule in ("stop", "caution")
                for asking in move.asked if move.rule.name == always.rule else ():
                    may = everybody or move.rule.word in self.ground.layout.may[asking.post]
                    shut = conj([due, negate(exists(asking.guard))])
                    if may and shut != 0 and self._model(self.encoding.condition(shut)) is not None:
                        when = self.encoding.condition(shut)
                        yield self._told(Wrong(always.name, 0, Piece("", {}), when, frozenset()), move)

    def batches(self) -> list[list[Move]]:
        """Give the moves a few at a time, of one rule and the same karts: z3 is asked about them at once."""
        together: dict[tuple[str, frozenset[str]], list[Move]] = {}
        for move in self.moves:
            together.setdefault((move.rule.name, karts_of(move)), []).append(move)
        return [group[n : n + BATCH] for group in together.values() for n in range(0, len(group), BATCH)]

    def broken(self, moves: Sequence[Move]) -> list[Counterexample]:
        """Give the clauses that moves of one batch break, each once a move."""
        step = Step(self, moves)
        wrongs = list(step.wrongs())
        any_wrong = self.encoding.z3.Or([wrong.when for wrong in wrongs])
        if not wrongs or self._model(step.made(wrongs), any_wrong) is None:
            return []
        if len(moves) > 1:
            return [found for move in moves for found in self.broken([move])]
        found: dict[tuple[str, int], Counterexample] = {}
        for wrong in wrongs:
            key = (wrong.name, wrong.number)
            if key not in found and self._model(step.made([wrong]), wrong.when) is not None:
                found[key] = self._told(wrong, moves[0])
        return list(found.values())

    # -- telling -----------------------------------------------------------------------------------------

    def _told(self, wrong: Wrong, move: Move | None) -> Counterexample:
        """Give a counterexample that differs from the initial state as little as can be."""
        step = Step(self, [move] if move else []).made([wrong])
        start = [(self.encoding.leaf("slot", slot.place), slot.start) for slot in self.program.slots]
        start += [(self.encoding.leaf("free", name), 0) for name in GIVEN]
        kept = self._as_many([wrong.when, step], [leaf == number for leaf, number in start])
        model = self._model(*kept)
        before, then = {}, {}
        changed = dict(move.updates) if move else {}
        for place in self.program.slots:
            was = self._read(model, self.encoding.leaf("slot", place.place))
            now = self._read(model, self.encoding.value(changed.get(place.place, slot(place.place))))
            if was != place.start:
                before[place.name] = place.members[was]
            if now != was:
                then[place.name] = place.members[now]
        about = " ".join(f"{name}={member}" for name, (_, member) in wrong.piece.bound.items())
        return Counterexample(wrong.name, wrong.number, about, self._call(wrong, move, model), before, then)

    def _as_many(self, must: list[Z3], wished: list[Z3]) -> list[Z3]:
        """Give as many of the wishes as go together with what must be, halving what does not."""
        if self._model(*must, *wished) is not None:
            return [*must, *wished]
        if len(wished) <= 1:
            return must
        half = len(wished) // 2
        return self._as_many(self._as_many(must, wished[:half]), wished[half:])

    def _read(self, model: Z3, expression: Z3) -> int:
        return int(model.eval(expression, model_completion=True).as_long())

    def _call(self, wrong: Wrong, move: Move | None, model: Z3) -> str:
        """Give a move with a caller it is open to, and the truths that came with it."""
        if move is None:
            return ""
        open_to = (
            a
            for a in wrong.asked
            if self.encoding.z3.is_true(model.eval(self.encoding.condition(a.guard), model_completion=True))
        )
        asking = next(open_to, None)
        truths = [name for name in GIVEN if self._read(model, self.encoding.leaf("free", name))]
        post = [f"post={asking.post}"] if asking and "post" not in move.names else []
        return " ".join([move.name, *post, *truths])


def _later(leaf: Node) -> Value:
    return after(leaf.args[0]) if leaf.op == "slot" else leaf


def _sooner(leaf: Node) -> Value:
    if leaf.op == "after":
        return slot(leaf.args[0])
    return 0 if leaf.args[0] == "changes" else leaf


def _moved(places: Mapping[int, int], leaf: Node) -> Value:
    return slot(places.get(leaf.args[0], leaf.args[0]))
