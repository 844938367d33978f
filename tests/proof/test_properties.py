"""Every property can be broken: a hand-made state or step that breaks it, so that no tautology hides."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import pytest

from signals.core.expr import BOOL, Bound
from signals.core.schema import GIVEN
from signals.proof.nodes import Node, Value, free, rebuild
from signals.proof.program import Program
from signals.proof.properties import STATE, STEPS, Clause
from signals.proof.scopes import all_rows, ground_of
from signals.proof.small import small_layout
from signals.proof.stating import Statements
from signals.words import Word

LAYOUT = small_layout(2, 2, 2, inputs=True, may={"desk": frozenset(map(str, Word)), "p1": frozenset()})
GROUND = ground_of(LAYOUT)
PROGRAM = Program(GROUND, all_rows())
KMH = Statements(PROGRAM).kmh


FIRST = 1 << 16
LATER: dict[int, str] = {}
"""Places beyond the facts' that stand for what is shown and allowed after a step."""


class Shown(Statements):
    """Properties over outputs that an example gives, instead of those that follow from its facts."""

    def __init__(self) -> None:
        super().__init__(PROGRAM)
        for number, head in enumerate(LAYOUT.heads):
            self.aspects[number] = self.given(number, f"aspect[{head}]")
        for number, kart in enumerate(LAYOUT.karts, len(LAYOUT.heads)):
            self.limits[number - len(LAYOUT.heads)] = self.given(number, f"limit[{kart}]")

    def given(self, number: int, name: str) -> Value:
        LATER[FIRST + number] = name
        self._places[name] = FIRST + number
        return free(name)


SHOWN = Shown()


@dataclass(frozen=True)
class Example:
    """Facts that differ from the start; for a step also what it makes of them, who makes it and how."""

    name: str
    facts: Mapping[str, str] = field(default_factory=dict)
    after: Mapping[str, str] = field(default_factory=dict)
    rule: str = ""
    names: Mapping[str, str] = field(default_factory=dict)
    truths: frozenset[str] = frozenset()
    aspect: dict[str, str] = field(default_factory=dict)
    limit: Mapping[str, float] = field(default_factory=dict)
    later: dict[str, str] = field(default_factory=dict)
    """Aspects after the step; the same as before where not named."""


def vector(facts: Mapping[str, str]) -> dict[int, int]:
    values = dict(enumerate(PROGRAM.start))
    for name, member in facts.items():
        fact, _, index = name.removesuffix("]").partition("[")
        array = GROUND.schema.facts[fact]
        values[GROUND.index(fact, *index.split(", ")) if index else array.base] = array.domain.members.index(
            member
        )
    return values


def holds(clause: Clause, example: Example) -> bool:
    sorts = SHOWN._emitter.schema.sorts
    env: dict[str, Bound] = {name: Bound(BOOL, name) for name in (*GIVEN, "changes")}
    if example.rule:
        rule = GROUND.rules[example.rule].rule
        env["word"] = Bound(sorts["word"], sorts["word"].members.index(rule.word))
        env["post"] = Bound(sorts["holder"], sorts["holder"].members.index(example.names.get("post", "desk")))
        for name, sort in rule.params.items():
            env[name] = Bound(sorts[sort], sorts[sort].members.index(example.names[name]))
    before, after = vector(example.facts), vector({**example.facts, **example.after})
    aspects = sorts["aspect"].members

    def leaf(node: Node) -> Value:
        what = node.args[0]
        kind, _, index = str(LATER.get(what, what)).removesuffix("]").partition("[")
        if kind == "aspect":
            shown = example.aspect | example.later if node.op == "after" else example.aspect
            return aspects.index(shown.get(index, "red"))
        if kind == "limit":
            return KMH.index(example.limit.get(index, 0))
        if node.op == "slot":
            return before[what]
        if node.op == "after":
            return after[what]
        if what in PROGRAM.hidden.values():
            return before[next(place for place, name in PROGRAM.hidden.items() if name == what)]
        return int(what in example.truths)

    made = rebuild(SHOWN._tree(clause.when, env), leaf, {})
    assert isinstance(made, int), made
    return bool(made)


RACING = {"phase": "racing", "opening": "open", "ready": "true", "entry[1]": "adult"}
STOP = {"stop[desk]": "incident", "latch": "stop"}
PLACER = {"placer": "desk"}
INCIDENT = {"where": "s1", "kind": "incident"}
WHERE = {"where": "s1", "placer": "desk"}

BROKEN = (
    Example("P1", RACING | {"caution[s1, desk]": "incident"}, aspect={"h1": "green"}),
    Example("P1", {"phase": "finishing"}, aspect={"h1": "green"}),
    Example("P1d", RACING, aspect={"h1": "dark"}),
    Example("P2", RACING | STOP, aspect={"h2": "yellow_flash"}),
    Example("P2", RACING | STOP, limit={"2": 5}),
    Example("P6", RACING | {"call[1]": "disqualified"}, limit={"1": 45}),
    Example("P7", RACING | {"caution[s1, p1]": "incident"}, aspect={"h1": "blue_flash"}),
    Example("P7", RACING | {"call[1]": "move_over"}),
    Example("P8", RACING | {"button[1]": "true"}, limit={"1": 5}),
    Example("P8", RACING | {"place[1]": "s1", "caution[s2, E]": "equipment"}, limit={"1": 45}),
    Example("P8", RACING | {"place[1]": "s1", "entry[1]": "junior"}, limit={"1": 45}),
    Example("P9", {"monitor": "tripped"}),
    Example("P12", RACING | {"latch": "recovery"}, aspect={"px1": "green"}),
    Example("P14", {"phase": "armed"}),
    Example("P14", {"phase": "test", "caution[pit, desk]": "incident"}),
    Example("P14", {"phase": "armed"}, rule="kart-lost", names={"kart": "1", "post": "E"}),
    Example("P15", {"head[h1]": "lost"}),
    Example("P15", {"place[1]": "unknown"}),
    Example("P15", {"place[1]": "s1", "button[1]": "true"}),
    Example("P15", rule="broker-lost", names={"post": "E"}),
    Example("P16r", {"latch": "stop"}),
    Example("P22", RACING | {"place[1]": "s1", "caution[s1, p1]": "person_on_track"}, limit={"1": 15}),
    Example("P35", {"place[1]": "s1"}, {"phase": "closed"}, "close"),
    Example("P33", {"told[h1]": "green"}),
    Example("P34", RACING, {}, "finish"),
    Example("P34", {"phase": "test", "allowed[1]": "true"}, {}, "allow-ended", {"kart": "1", "post": "E"}),
    Example("P28", RACING, {"call[1]": "disqualified"}, "finish"),
    Example("P3", {"phase": "staging"}, {"phase": "racing"}, "confirm", {"item": "belts"}),
    Example("P3", {"phase": "armed"}, {"phase": "racing"}, "start"),
    Example("P4", RACING | STOP, {"stop[desk]": "none", "latch": "none"}, "lift-stop", PLACER),
    Example("P5", RACING | STOP, {"stop[desk]": "none"}, "finish"),
    Example("P5", RACING | STOP, {"stop[desk]": "none"}, "lift-stop", PLACER | {"post": "p1"}),
    Example("P5", {"caution[s1, desk]": "incident"}, {"caution[s1, desk]": "none"}, "lift-caution", WHERE),
    Example("P5", {"latch": "recovery"}, {"latch": "none"}, "close"),
    Example("P6e", {"call[1]": "disqualified", "place[1]": "s1"}, {"call[1]": "none"}, "stage"),
    Example("P11", RACING | {"place[1]": "s1"}, {"phase": "closed"}, "close"),
    Example("P12e", {}, {"place[1]": "s1"}, "kart-at", {"kart": "1", "where": "s1", "post": "E"}),
    Example("P13", RACING, rule="head-back", names={"head": "h1", "post": "E"}, later={"h1": "green"}),
    Example("P14e", {"phase": "armed"}, {"caution[pit, E]": "equipment"}, "caution", INCIDENT),
    Example("P16", RACING | STOP, {"stop[desk]": "none"}, "restart", {"post": "E"}),
    Example("P17", {"button[1]": "true"}, {"button[1]": "false"}, "stage"),
    Example("P17", {"button[1]": "true"}, {"button[1]": "false"}, "button-reset", {"kart": "1"}),
    Example("P18", RACING, rule="caution", names={"where": "s1", "kind": "incident"}, later={"h2": "green"}),
    Example("P19", {"journal": "failed"}, {"phase": "test"}, "lend"),
    Example("P20", RACING, {"phase": "closed"}, "close"),
    Example("P20", RACING, {"ready": "false"}, "finish"),
    Example("P21", rule="lend"),
    Example("P24", {"place[1]": "s1"}, {"phase": "staging"}, "stage"),
    Example("P25", RACING | {"gap": "true"}, {"let_out[1]": "yes"}, "let-out", {"kart": "1"}),
    Example("P25", RACING, {"let_out[1]": "yes"}, "finish"),
    Example("P26", {"place[1]": "s1"}, rule="swap", names={"kart": "1", "to": "2", "runs_as": "adult"}),
    Example("P27", {"latch": "recovery"}, {"latch": "none"}, "clear"),
    Example("P28", {}, {"slowed[1]": "slow"}, "slow-one", {"kart": "1"}),
    Example("P29", {"place[1]": "s1"}, {"place[1]": "pit"}, "account-pit", {"kart": "1"}),
    Example("P30", {}, {"head[h1]": "out"}, "out-of-service", {"head": "h1"}),
    Example("P31", {"surface": "wet"}, {"surface": "dry"}, "stop", {"kind": "incident"}),
    Example("P31", {}, {"opening": "open"}, "verdict", {"verdict": "open"}, frozenset({"rows_open"})),
    Example("P32", {}, {"phase": "test"}, "lend", {"post": "p1"}),
    Example("P32", {"place[1]": "s1"}, {}, "lift-stop", PLACER, frozenset({"stale"})),
)  # fmt: skip

NAMES = [prop.name for prop in (*STATE, *STEPS)]


def clauses(name: str, rule: str) -> list[Clause]:
    prop = next(prop for prop in (*STATE, *STEPS) if prop.name == name)
    if not rule:
        return [clause for clause in prop.clauses if clause.of_states]
    spoken_of = GROUND.rules[rule].rule
    return [clause for clause in prop.clauses if not clause.of_states and clause.speaks_of(spoken_of)]


@pytest.mark.parametrize("example", BROKEN, ids=lambda e: f"{e.name} {e.rule or 'state'}")
def test_a_hand_made_example_breaks_it(example: Example) -> None:
    asked = clauses(example.name, example.rule)
    assert asked, "no clause speaks of the example"
    assert not all(holds(clause, example) for clause in asked)


@pytest.mark.parametrize("name", NAMES)
def test_every_property_has_one(name: str) -> None:
    assert name in {example.name for example in BROKEN}


def test_the_start_breaks_nothing() -> None:
    start = Example("", aspect=dict.fromkeys(LAYOUT.heads, "red"))
    assert all(holds(clause, start) for prop in STATE for clause in prop.clauses if clause.of_states)
