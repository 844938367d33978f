"""A way to a broken property, written as a sequence file that can be played and looked at.

Small venues share the names of harbour-loop (sectors s1 …, heads h1 …, posts desk, p1 …, karts 1 …), so
a way found in one of them is played there. What karts do by themselves there is asked for as an event;
time passing is waited for.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from signals.proof.nodes import Node, Value, rebuild
from signals.proof.program import Asking, Move, Program, binder
from signals.words import PIT

VENUE = "harbour-loop"
WAIT_MS = 1000
Way = Sequence[tuple[Move, tuple[int, ...]]]
"""Moves with the facts after each."""

_EVENTS = {
    "head-lost": "head-lost",
    "head-back": "head-back",
    "kart-lost": "kart-lost",
    "kart-back": "kart-back",
    "kart-pressed": "kart-button",
    "kart-standing": "stall",
    "limit-missed": "limiter-stuck",
    "monitor-lost": "monitor-killed",
    "monitor-back": "monitor-back",
    "broker-lost": "broker-killed",
    "restart": "controller-killed",
    "journal-failed": "journal-killed",
    "journal-back": "journal-back",
    "input-active": "input-active",
    "input-normal": "input-normal",
    "input-fault": "input-fault",
}
_BACK = {"broker-killed": "broker-back", "controller-killed": "controller-back"}
_LIKELY = ("checked", "reasoned", "named", "walker", "own_call", "complete")
"""Truths that a caller gives where a move needs them."""


def sequence_of(program: Program, way: Way, title: str, items: Sequence[str]) -> str:
    """Write a way as a sequence file (TOML); `items` are the checklist of the venue it is played on."""
    karts = ", ".join(
        f'{{ number = {kart}, driver = "Driver {kart}", class = "{program.ground.layout.kart_class[kart]}" }}'
        for kart in program.ground.layout.karts
    )
    lines = [
        f"title = {_quoted(title)}",
        "",
        "[start]",
        f'venue = "{VENUE}"',
        'opening_check = "open"',
        f"group = [{karts}]",
    ]
    before = program.start
    for move, facts in way:
        for step in _steps(program, move, before, facts, items):
            lines += ["", "[[step]]", *(f"{key} = {_toml(value)}" for key, value in step.items())]
        before = facts
    return "\n".join(lines) + "\n"


def _steps(
    program: Program, move: Move, before: tuple[int, ...], after: tuple[int, ...], items: Sequence[str]
) -> Iterator[dict[str, Any]]:
    """Give the steps that make a move: a call by somebody who may, an event, or waiting."""
    rule = move.rule
    if rule.kind in ("permissive", "restrictive"):
        post, truths = _caller(move.asked, before)
        if move.names.get("complete") == "true":
            to = {"to": "next"} if rule.name == "stage" else {}
            last = () if rule.name == "stage" else items[-1:]
            confirmed = [item for item in items if item not in last]
            yield from ({"call": "confirm", "post": post, "item": item, **to} for item in confirmed)
            if last:
                yield {"call": "confirm", "post": post, "item": last[0]}
                return
        yield {"call": rule.word, "post": post, **_fields(move), **_truths(truths, move)}
    elif rule.name == "kart-at":
        here = program.ground.value(before, "place", move.names["kart"])
        if PIT in (here, move.names["where"]):
            event = "kart-leaves" if here != PIT else "kart-enters"
            yield {"event": event, "kart": int(move.names["kart"]), "note": move.name}
        else:
            yield _waits(program, move, after)
    elif rule.name in _EVENTS:
        event = _EVENTS[rule.name]
        named = {name: member for name, member in move.names.items() if name in ("head", "kart", "input")}
        yield {
            "event": event,
            **{n: int(m) if n == "kart" else m for n, m in named.items()},
            "note": move.name,
        }
        if event in _BACK:
            yield {"event": _BACK[event]}
    else:
        yield _waits(program, move, after)


def _waits(program: Program, move: Move, after: tuple[int, ...]) -> dict[str, Any]:
    """Wait for what comes by itself."""
    return {
        "after_ms": WAIT_MS,
        "phase": program.ground.value(after, "phase"),
        "note": f"by itself: {move.name}",
    }


def _caller(asked: Sequence[Asking], facts: tuple[int, ...]) -> tuple[str, Mapping[str, int]]:
    """Give somebody who may make a move in a state, with the truths that it takes."""
    for asking in asked:
        truths = _given(asking.guard, facts)
        if truths is not None:
            return asking.post, truths
    raise LookupError("nobody may make a move that was made")


def _given(guard: Value, facts: tuple[int, ...]) -> dict[str, int] | None:
    """Give values of the free names under which a guard holds in a state; None if there are none."""
    here = rebuild(guard, lambda leaf: facts[leaf.args[0]] if leaf.op == "slot" else leaf, {})
    truths: dict[str, int] = {}
    while isinstance(here, Node):
        name = min(leaf[1] for leaf in here.reads)
        likely = int(name in _LIKELY or str(name).startswith(("link", "taken")))
        for value in (likely, 1 - likely):
            tried = rebuild(here, binder({str(name): value}), {})
            if tried != 0:
                truths[str(name)], here = value, tried
                break
        else:
            return None
    return truths if here else None


def _fields(move: Move) -> dict[str, Any]:
    names = move.names
    match move.rule.name:
        case "lift-stop" | "hand-over-stop":
            return {"hold": f"stop:{names['placer']}"}
        case "lift-caution" | "hand-over-caution":
            return {"hold": f"caution:{names['where']}:{names['placer']}"}
        case "account-pit" | "account-aside":
            return {"kart": int(names["kart"]), "where": move.rule.name.partition("-")[2]}
    said = {name: member for name, member in names.items() if name in move.rule.params and name != "placer"}
    return {
        name: int(member) if name in ("kart", "to") else member.replace("_", "-")
        for name, member in said.items()
    }


def _truths(truths: Mapping[str, int], move: Move) -> dict[str, Any]:
    made: dict[str, Any] = {}
    if truths.get("checked") or move.names.get("checked") == "true":
        made["checked"] = True
    if truths.get("reasoned"):
        made["reason"] = "as the way to the broken property has it"
    return made


def _toml(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    return str(value) if isinstance(value, int) else _quoted(str(value))


def _quoted(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'
