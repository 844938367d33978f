"""From a venue's layout to the names the rule table's expressions use: sorts, facts, relations."""

from __future__ import annotations

from itertools import product

from signals.core.expr import BOOL, Array, Constant, Domain, Schema
from signals.core.forms import Table
from signals.core.state import Layout
from signals.words import EQUIPMENT, PIT, Aspect, HeadRole, InputKind

GIVEN = (
    "stale",
    "reused",
    "barred",
    "complete",
    "checked",
    "reasoned",
    "named",
    "walker",
    "own_call",
    "rows_open",
)
"""Truths that come with a call, in the order functions take them."""

_FIXED = {
    "phase": "closed test staging armed racing finishing",
    "latch": "none stop recovery",
    "stop_kind": "incident fire medical equipment none",
    "stop_call": "incident fire medical",
    "caution_kind": "incident person_on_track equipment none",
    "caution_call": "incident person_on_track",
    "monitor_health": "ok lost tripped",
    "head_health": "ok lost out",
    "let_out": "no yes gone",
    "kart_call": "none move_over disqualified",
    "slowed": "none slow stop",
    "surface": "dry wet",
    "journal": "ok failed",
    "opening": "missing open",
    "input_state": "normal active fault",
    "verdict": "open open_restricted do_not_open",
    "one": "once",
}


def plain(word: str) -> str:
    """Turn a word of the wire into a member of the table: `move-over` is `move_over`."""
    return word.replace("-", "_")


def _sorts(layout: Layout, words: tuple[str, ...]) -> dict[str, Domain]:
    aspects = tuple(plain(aspect) for aspect in Aspect)
    sorts = {
        "sector": layout.sectors,
        "track": layout.sectors[:-1],
        "spot": (*layout.sectors, "unknown", "aside"),
        "head": layout.heads,
        "post": layout.posts,
        "holder": (*layout.posts, EQUIPMENT),
        "kart": tuple(str(kart) for kart in layout.karts),
        "input": layout.inputs,
        "class": layout.classes,
        "entry": (*layout.classes, "none"),
        "item": layout.checklist,
        "aspect": aspects,
        "told": (*aspects, "none"),
        "word": words,
        **{name: tuple(members.split()) for name, members in _FIXED.items()},
    }
    return {"bool": BOOL, **{name: Domain(name, tuple(members)) for name, members in sorts.items()}}


def guarded(layout: Layout, head: str) -> frozenset[str]:
    """Give the sectors put under caution when a head is lost: its own and the ones of the head before."""
    before = layout.before.get(head)
    return frozenset(layout.protects[head]) | frozenset(layout.protects[before] if before else ())


_GATES = (HeadRole.START, HeadRole.PIT_EXIT)
_RED_INPUTS = (InputKind.ALARM, InputKind.HARD_STOP, InputKind.STOP_BOX)


def _input_cautions(layout: Layout, name: str, sector: str) -> bool:
    """Tell where a contact puts yellow: a gate on its sector (else the pit), a box on its own (else all)."""
    kind, where = layout.input_kind[name], layout.input_sector.get(name)
    if kind is InputKind.GATE:
        return sector == (where or PIT)
    return kind is InputKind.CAUTION_BOX and where in (None, sector)


def _constants(layout: Layout, sorts: dict[str, Domain]) -> dict[str, Constant]:
    aspect = sorts["aspect"].members.index

    def relation(name: str, over: tuple[str, ...], holds: object, domain: Domain = BOOL) -> None:
        domains = tuple(sorts[sort] for sort in over)
        values = tuple(int(holds(*index)) for index in product(*(d.members for d in domains)))  # type: ignore[operator]
        made[name] = Constant(name, domains, values, domain)

    made: dict[str, Constant] = {}
    karts = sorts["kart"].members
    relation("protects", ("head", "sector"), lambda h, s: s in layout.protects[h])
    relation("guards", ("head", "sector"), lambda h, s: s in guarded(layout, h))
    relation("approach", ("sector", "sector"), lambda s, a: a in layout.approach.get(s, ()))
    relation("may", ("post", "word"), lambda p, w: w in layout.may[p])
    relation("supervisor", ("post",), lambda p: p in layout.supervisors)
    relation("covers", ("post", "sector"), lambda p, s: s in layout.covers[p])
    relation(
        "alike", ("head", "head"), lambda h, g: (layout.roles[h] in _GATES) == (layout.roles[g] in _GATES)
    )
    relation("gate_head", ("head",), lambda h: layout.roles[h] in _GATES)
    relation("number_head", ("head",), lambda h: h in layout.numbers)
    relation(
        "fail_aspect",
        ("head",),
        lambda h: aspect(plain(layout.fail_aspect[layout.roles[h]])),
        sorts["aspect"],
    )
    relation("finish_aspect", (), lambda: aspect(plain(layout.finish_aspect)), sorts["aspect"])
    relation("grid_start", (), lambda: layout.grid_start)
    relation("finish_at_line", (), lambda: layout.finish_at_line)
    relation("mixed_classes", (), lambda: layout.mixed_classes)
    relation("must_stand", (), lambda: all(limits["stop"] == 0 for limits in layout.limits_kmh.values()))
    relation("earlier", ("kart", "kart"), lambda k, m: karts.index(k) < karts.index(m))
    relation("input_stops", ("input",), lambda i: layout.input_kind[i] in _RED_INPUTS)
    relation("input_cautions", ("input", "sector"), lambda i, s: _input_cautions(layout, i, s))
    return made


def schema_of(table: Table, layout: Layout) -> Schema:
    """Lay out every fact in one vector and work out the venue's relations."""
    words = tuple(dict.fromkeys(rule.word for rule in table.rules))
    sorts = _sorts(layout, words)
    facts: dict[str, Array] = {}
    base = 0
    for fact in table.facts:
        over = tuple(sorts[sort] for sort in fact.over)
        facts[fact.name] = Array(fact.name, over, sorts[fact.domain], base)
        base += facts[fact.name].size
    vectors = {"staged": Array("staged", (sorts["kart"],), sorts["entry"])}
    return Schema(sorts, facts, _constants(layout, sorts), vectors)
