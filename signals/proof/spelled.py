"""The properties the rules must have, written apart from the rule table.

They read the facts by name and the outputs by number and know nothing of interlocks, definitions or
caps: what is stated here is stated a second time, on purpose. State properties speak of one state,
step properties of a state, what happened, and the state after.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from signals.core.forms import Kind
from signals.core.ground import Facts, Ground
from signals.core.outputs import Outputs
from signals.core.state import Beside, Layout
from signals.words import EQUIPMENT, PIT, Aspect, HeadRole

GATES = (HeadRole.START, HeadRole.PIT_EXIT)
_RANK = {aspect: rank for rank, aspect in enumerate(Aspect)}
"""0 is the most restrictive."""


class Seen:
    """One state, spelled out by names: what every property reads."""

    def __init__(self, reader: Reader, facts: Facts) -> None:
        get, each = reader.get, reader.each
        self.facts = facts
        self.layout = reader.layout
        self.phase, self.ready, self.latch = (get(facts, name) for name in ("phase", "ready", "latch"))
        self.monitor, self.journal = get(facts, "monitor"), get(facts, "journal")
        self.opening, self.surface = get(facts, "opening"), get(facts, "surface")
        self.stop, self.head, self.place = (each(facts, name) for name in ("stop", "head", "place"))
        self.let_out, self.button, self.call = (each(facts, name) for name in ("let_out", "button", "call"))
        self.slowed, self.entry = each(facts, "slowed"), each(facts, "entry")
        self.link, self.taken = each(facts, "link"), each(facts, "taken")
        self.caution = reader.pairs(facts)
        self.aspect = {show.head: show.aspect for show in reader.outputs.heads(facts, Beside())}
        self.kmh = {str(limit.kart): limit.limit_kmh for limit in reader.outputs.karts(facts, Beside())}

    def held(self, sector: str) -> bool:
        """Whether anybody holds a caution there, or the track is in recovery."""
        holders = (kind for (where, _), kind in self.caution.items() if where == sector)
        return self.latch == "recovery" or any(kind != "none" for kind in holders)

    def may_be(self, kart: str) -> tuple[str, ...]:
        """Where a kart is or may be, as sectors."""
        place = self.place[kart]
        return self.layout.sectors if place == "unknown" else () if place == "aside" else (place,)

    def near(self, kart: str, sector: str) -> bool:
        """Whether a kart is or may be in a sector or on its approach."""
        places = (sector, *self.layout.approach.get(sector, ()))
        return any(place in places for place in self.may_be(kart))

    @property
    def stopped(self) -> bool:
        """Whether anybody holds a stop."""
        return any(kind != "none" for kind in self.stop.values())

    @property
    def known_empty(self) -> bool:
        """Whether every kart is known to be off the track."""
        return all(place in (PIT, "aside") for place in self.place.values())


class Reader:
    """Reads facts by name; remembers what it has spelled out."""

    def __init__(self, ground: Ground, outputs: Outputs) -> None:
        self.ground = ground
        self.outputs = outputs
        self.layout: Layout = ground.layout
        self._slots = {
            name: (array.base, array.domain.members, [m[0] for m in ground.each(array)])
            for name, array in ground.schema.facts.items()
            if len(array.over) == 1
        }
        caution = ground.schema.facts["caution"]
        self._caution = (caution.base, caution.domain.members, ground.each(caution))

    def get(self, facts: Facts, name: str) -> str:
        """Read a single fact."""
        array = self.ground.schema.facts[name]
        return array.domain.members[facts[array.base]]

    def each(self, facts: Facts, name: str) -> dict[str, str]:
        """Read a fact over one sort."""
        base, members, keys = self._slots[name]
        return {key: members[facts[base + number]] for number, key in enumerate(keys)}

    def pairs(self, facts: Facts) -> dict[tuple[str, ...], str]:
        """Read the cautions by (sector, holder)."""
        base, members, keys = self._caution
        return {key: members[facts[base + number]] for number, key in enumerate(keys)}


@dataclass(frozen=True, slots=True)
class Property:
    """A named statement; `holds` takes a Seen, or for steps (before, Step, after).

    `particular` ones depend on who called and what was named, the others on the rule alone.
    """

    name: str
    says: str
    holds: Callable[..., bool]
    particular: bool = False


@dataclass(frozen=True, slots=True)
class Step:
    """What happened between two states: the rule, its kind, and its parameters by name, `post` included."""

    rule: str
    kind: Kind
    names: dict[str, str]
    truths: dict[str, bool]


def _limits(seen: Seen) -> Any:
    return seen.layout.limits_kmh[seen.surface]


def _p1(s: Seen) -> bool:
    healthy = s.monitor == "ok" and "unknown" not in s.place.values()
    calm = s.phase == "racing" and s.latch == "none" and not s.stopped
    return all(
        aspect is not Aspect.GREEN
        or s.phase == "test"
        or (calm and healthy and s.head[head] == "ok" and not any(map(s.held, s.layout.protects[head])))
        for head, aspect in s.aspect.items()
    )


def _p1d(s: Seen) -> bool:
    quiet = s.phase not in ("racing", "finishing") and not s.stopped and s.known_empty
    return s.phase == "test" or quiet or Aspect.DARK not in s.aspect.values()


def _p2(s: Seen) -> bool:
    if not s.stopped:
        return True
    red = all(aspect is Aspect.RED for aspect in s.aspect.values())
    return red and all(kmh <= _limits(s)["stop"] for kmh in s.kmh.values())


def _p6(s: Seen) -> bool:
    return all(s.kmh[k] <= _limits(s)["disqualified"] for k, call in s.call.items() if call == "disqualified")


def _p7(s: Seen) -> bool:
    shown = [h for h, aspect in s.aspect.items() if aspect in (Aspect.NUMBER, Aspect.BLUE_FLASH)]
    heads = s.phase == "test" or all(
        not s.stopped and s.phase != "finishing" and not any(map(s.held, s.layout.protects[h])) for h in shown
    )
    karts = all(
        s.phase == "racing" and place not in (PIT, "aside", "unknown") and not s.stopped and not s.held(place)
        for k, place in s.place.items()
        if s.call[k] == "move_over"
    )
    return heads and karts


def _p8(s: Seen) -> bool:
    return all(_capped(s, kart) for kart in s.place)


def _capped(s: Seen, k: str) -> bool:
    """Every cap of a kart, one inequality each (in a test the allowed limit is the test's own matter)."""
    kmh, limits, places = s.kmh[k], _limits(s), s.may_be(k)
    waiting = s.phase in ("closed", "staging", "armed")
    off = PIT in places
    caps = [
        (s.button[k] == "true" or s.slowed[k] == "stop" or s.place[k] == "aside", 0.0),
        (any(kind in ("fire", "medical") for kind in s.stop.values()), 0.0),
        (off and (waiting or s.let_out[k] == "no") and s.phase != "test", 0.0),
        (off and s.phase != "test", limits["pit"]),
        (waiting and s.place[k] != PIT, limits["return"]),
        (s.latch == "recovery", limits["return"]),
        (any(s.held(place) for place in places), limits["caution"]),
        (any(s.held(sector) and s.near(k, sector) for sector in s.layout.sectors), limits["caution"]),
        (s.slowed[k] == "slow", limits["caution"]),
        (s.phase == "finishing" and not s.layout.finish_at_line, limits["finish"]),
        (True, limits[s.entry[k] if s.entry[k] != "none" else s.layout.kart_class[int(k)]]),
    ]
    return all(not applies or kmh <= cap for applies, cap in caps)


def _p9(s: Seen) -> bool:
    return s.monitor != "tripped" or s.stop[EQUIPMENT] != "none"


def _p12(s: Seen) -> bool:
    open_ = s.phase == "racing" and not s.stopped and s.latch == "none"
    gates = [head for head, role in s.layout.roles.items() if role in GATES]
    return open_ or s.phase == "test" or all(s.aspect[head] is Aspect.RED for head in gates)


def _go(s: Seen) -> bool:
    """Every start guard, spelled out anew."""
    group = [k for k, entry in s.entry.items() if entry != "none"]
    return (
        bool(group)
        and s.ready == "true"
        and s.opening == "open"
        and s.monitor == "ok"
        and s.latch == "none"
        and not s.stopped
        and all(kind == "none" for kind in s.caution.values())
        and "lost" not in s.head.values()
        and s.known_empty
        and all(s.call[k] != "disqualified" for k in group)
        and all(s.link[k] == "true" and s.taken[k] == "true" for k in group if s.place[k] != "aside")
        and (s.layout.mixed_classes or len({s.entry[k] for k in group}) == 1)
    )


def _p14(s: Seen) -> bool:
    if s.phase == "armed":
        return _go(s)
    calm = s.latch == "none" and not s.stopped and all(kind == "none" for kind in s.caution.values())
    return s.phase != "test" or (calm and s.known_empty)


def _p15(s: Seen) -> bool:
    mine = {sector for (sector, holder), kind in s.caution.items() if holder == EQUIPMENT and kind != "none"}
    due: set[str] = set()
    for head in (h for h, health in s.head.items() if health == "lost"):
        before = s.layout.before.get(head)
        due |= {*s.layout.protects[head], *(s.layout.protects[before] if before else ())}
    if "unknown" in s.place.values() or s.monitor == "lost":
        due |= set(s.layout.sectors)
    due |= {s.place[k] for k, latched in s.button.items() if latched == "true" and s.place[k] != "aside"}
    return due <= mine | {"unknown"}


def _p16r(s: Seen) -> bool:
    return (s.latch == "stop") == s.stopped


def _p22(s: Seen) -> bool:
    people = {sector for (sector, _), kind in s.caution.items() if kind == "person_on_track"}
    return all(
        s.kmh[k] <= _limits(s)["creep"]
        for k in s.place
        for sector in people
        if s.near(k, sector) and s.phase != "test"
    )


STATE = (
    Property("P1", "green is shown only while racing, clear, healthy and known", _p1),
    Property("P1d", "dark never means clear", _p1d),
    Property("P2", "under a stop every head is red and every kart stands", _p2),
    Property("P6", "a disqualified kart is slow", _p6),
    Property("P7", "calls on karts show only where the track is clear", _p7),
    Property("P8", "every cap caps", _p8),
    Property("P9", "a tripped monitor means a stop", _p9),
    Property("P12", "the pit exit is red unless racing and clear of stops", _p12),
    Property("P14", "armed means everything is in order; a test means nothing is held and nobody out", _p14),
    Property("P15", "a fault of equipment stands as a caution", _p15),
    Property("P16r", "a stop and recovery never stand together", _p16r),
    Property("P22", "karts creep past people", _p22),
)


def _p3(a: Seen, step: Step, b: Seen) -> bool:
    return (
        a.phase == "racing" or b.phase != "racing" or (a.phase == "armed" and step.rule == "start" and _go(a))
    )


def _p4(a: Seen, _: Step, b: Seen) -> bool:
    return not a.stopped or b.stopped or (b.latch == "recovery" and a.phase == b.phase)


def _p5(a: Seen, step: Step, b: Seen) -> bool:
    gone = [f"stop:{p}" for p, kind in a.stop.items() if kind != "none" and b.stop[p] == "none"]
    gone += [
        f"caution:{s}:{p}" for (s, p), k in a.caution.items() if k != "none" and b.caution[s, p] == "none"
    ]
    named = {
        "lift-stop": f"stop:{step.names.get('placer')}",
        "lift-caution": f"caution:{step.names.get('where')}:{step.names.get('placer')}",
    }
    named |= {"hand-over-stop": named["lift-stop"], "hand-over-caution": named["lift-caution"]}
    cleared = a.latch != "recovery" or b.latch in ("recovery", "stop") or step.rule == "clear"
    return cleared and all(key == named.get(step.rule) and _may_lift(a, step, key) for key in gone)


def _may_lift(a: Seen, step: Step, key: str) -> bool:
    """Who may end a hold, spelled out anew."""
    if step.rule.startswith("hand-over"):
        return True
    post, placer = step.names["post"], step.names["placer"]
    boss = post in a.layout.supervisors
    reasoned = boss and step.truths["reasoned"]
    if key.startswith("stop:"):
        grave = a.stop[placer] in ("fire", "medical")
        return (post == placer or reasoned) and (boss or not grave) and a.monitor != "tripped"
    where = step.names["where"]
    if a.caution[where, placer] == "person_on_track":
        return step.truths["walker"] or (boss and a.latch == "stop" and step.truths["checked"])
    covers = placer == EQUIPMENT and where in a.layout.covers[post]
    return step.truths["checked"] and (post == placer or step.truths["walker"] or reasoned or covers)


def _p6e(a: Seen, step: Step, b: Seen) -> bool:
    return all(
        a.call[k] != "disqualified" or b.call[k] == "disqualified" or a.place[k] in (PIT, "aside")
        for k in a.call
    )


def _p11(a: Seen, _: Step, b: Seen) -> bool:
    return a.phase == "closed" or b.phase != "closed" or a.known_empty


def _p12e(a: Seen, step: Step, b: Seen) -> bool:
    entered = any(a.place[k] == PIT and b.place[k] not in (PIT, "unknown", "aside") for k in a.place)
    open_ = a.phase == "racing" and a.latch == "none"
    return not entered or open_ or b.stop[EQUIPMENT] != "none"


def _p13(a: Seen, step: Step, b: Seen) -> bool:
    if "test" in (a.phase, b.phase) or step.rule in ("start", "lift-caution", "clear"):
        return True
    held = (Aspect.RED, Aspect.YELLOW, Aspect.YELLOW_FLASH, a.layout.finish_aspect)
    return not any(a.aspect[h] in held and b.aspect[h] is Aspect.GREEN for h in a.aspect)


def _p14e(a: Seen, _: Step, b: Seen) -> bool:
    return b.phase != "armed" or (not b.stopped and all(kind == "none" for kind in b.caution.values()))


def _p16(a: Seen, step: Step, b: Seen) -> bool:
    if step.rule != "restart":
        return True
    stops = all(kind == "none" or b.stop[p] != "none" for p, kind in a.stop.items())
    cautions = all(kind == "none" or b.caution[key] != "none" for key, kind in a.caution.items())
    calls = all(call != "disqualified" or b.call[k] == call for k, call in a.call.items())
    latched = a.button == b.button and (a.monitor != "tripped" or b.monitor == "tripped")
    return stops and cautions and calls and latched and (a.latch == "none" or b.latch != "none")


def _p17(a: Seen, step: Step, b: Seen) -> bool:
    return step.rule == "button-reset" or all(
        a.button[k] == "false" or b.button[k] == "true" for k in a.button
    )


def _p18(a: Seen, step: Step, b: Seen) -> bool:
    if step.kind not in (Kind.RESTRICTIVE, Kind.FAULT):
        return True
    heads = "test" in (a.phase, b.phase) or all(_RANK[b.aspect[h]] <= _RANK[a.aspect[h]] for h in a.aspect)
    return heads and all(b.kmh[k] <= a.kmh[k] for k in a.kmh)


def _p19(a: Seen, step: Step, b: Seen) -> bool:
    return step.kind is not Kind.PERMISSIVE or a.journal == "ok"


_ARCS = {
    ("closed", "test"), ("test", "closed"), ("closed", "staging"), ("staging", "staging"),
    ("finishing", "staging"), ("staging", "armed"), ("armed", "staging"), ("armed", "racing"),
    ("racing", "finishing"), ("staging", "closed"), ("finishing", "closed"),
}  # fmt: skip


def _p20(a: Seen, step: Step, b: Seen) -> bool:
    phase = a.phase == b.phase or (a.phase, b.phase) in _ARCS
    checklist = a.ready == b.ready or step.rule in ("stage", "confirm", "close", "join", "restart")
    return phase and checklist


def _p21(a: Seen, step: Step, b: Seen) -> bool:
    beside = ("stage", "confirm", "confirm-next", "prepare", "show", "allow", "verdict", "let-out")
    return step.kind is not Kind.PERMISSIVE or step.rule in beside or a.facts != b.facts


STEPS = (
    Property("P3", "racing begins only by start from armed, with everything in order", _p3),
    Property("P4", "a stop leads only to stop or caution", _p4),
    Property("P5", "a hold ends only by a lift that names it and may", _p5, particular=True),
    Property("P6e", "a disqualification ends only off the track", _p6e),
    Property("P11", "a session closes only when every kart is known off the track", _p11),
    Property("P12e", "entering against red is a stop", _p12e),
    Property("P13", "green comes back only by start, lift, clear", _p13),
    Property("P14e", "any hold ends armed", _p14e),
    Property("P16", "a restart loses nothing", _p16),
    Property("P17", "a button's latch ends only by a person", _p17),
    Property("P18", "restrictive calls and faults never widen anything", _p18),
    Property("P19", "nothing is widened that cannot be recorded", _p19),
    Property("P20", "phase and checklist change only along listed arcs", _p20),
    Property("P21", "an accepted permissive call changes something", _p21),
)
