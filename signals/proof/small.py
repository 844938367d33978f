"""Invented venues of any size, as the core sees them: for exploring, and for tests of the core alone."""

from __future__ import annotations

from typing import Any

from signals.core.state import Layout
from signals.words import PIT, Aspect, HeadRole, InputKind, Word

LIMITS: dict[str, float] = {
    "zero": 0, "stop": 0, "creep": 5, "pit": 8, "return": 12, "disqualified": 12, "caution": 15, "finish": 15,
    "junior": 28, "adult": 45,
}  # fmt: skip
WET = LIMITS | {"caution": 12.0, "finish": 12.0, "junior": 22.0, "adult": 32.0}
_GATE_FAIL = {
    role: Aspect.RED if role in (HeadRole.START, HeadRole.PIT_EXIT) else Aspect.YELLOW_FLASH
    for role in HeadRole
}


def small_layout(sectors: int, karts: int, posts: int, *, inputs: bool = False, **changes: Any) -> Layout:
    """Give a ring of sectors with a head at each, one pit exit with two heads, and posts that may all.

    The first post, "desk", is a supervisor. `changes` replace fields of the layout.
    """
    ring = tuple(f"s{number + 1}" for number in range(sectors))
    track = tuple(f"h{number + 1}" for number in range(sectors))
    heads = (*track, "px1", "px2")
    names = ("desk", *(f"p{number}" for number in range(1, posts)))
    contacts = {"alarm": InputKind.ALARM, "gate": InputKind.GATE} if inputs else {}
    fields: dict[str, Any] = {
        "sectors": (*ring, PIT),
        "sector_names": {sector: f"{number + 1} Bend" for number, sector in enumerate(ring)}
        | {PIT: "pit lane"},
        "approach": {sector: (ring[number - 1],) for number, sector in enumerate(ring)},
        "after_pit": ring[0],
        "heads": heads,
        "roles": dict.fromkeys(track, HeadRole.TRACK) | dict.fromkeys(("px1", "px2"), HeadRole.PIT_EXIT),
        "protects": {head: (ring[n],) for n, head in enumerate(track)}
        | dict.fromkeys(("px1", "px2"), ring[:1]),
        "before": {head: track[n - 1] for n, head in enumerate(track)}
        | dict.fromkeys(("px1", "px2"), track[-1]),
        "numbers": frozenset(track[:1]),
        "posts": names,
        "post_names": {post: f"post {post}" for post in names},
        "covers": dict.fromkeys(names, (*ring, PIT)),
        "supervisors": frozenset({"desk"}),
        "may": dict.fromkeys(names, frozenset(word.value for word in Word)),
        "karts": tuple(range(1, karts + 1)),
        "kart_class": dict.fromkeys(range(1, karts + 1), "adult"),
        "classes": ("junior", "adult"),
        "inputs": tuple(contacts),
        "input_kind": contacts,
        "input_sector": {},
        "checklist": ("briefing", "belts"),
        "limits_kmh": {"dry": LIMITS, "wet": WET},
        "boosts": 1,
        "fail_aspect": _GATE_FAIL,
        "finish_aspect": Aspect.RED_YELLOW,
        "grid_start": False,
        "finish_at_line": False,
        "mixed_classes": False,
        "armed_ms": 60_000,
        "gap_ms": 5_000,
        "move_over_ms": 20_000,
        "show_ms": 10_000,
        "stood_ms": 3_000,
    }
    return Layout(**(fields | changes))
