"""What people call and equipment does, made of dice: for the pure core and for the running service."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from itertools import count
from random import Random
from typing import Any

from signals.core.machine import Core
from signals.core.state import Event, Member, State

ASKED: dict[str, Callable[[Random, Core, list[str]], dict[str, Any]]] = {
    "stop": lambda dice, *_: {"kind": dice.choice(("incident", "incident", "fire", "medical"))},
    "caution": lambda dice, core, _: {
        "where": dice.choice(core.layout.sectors),
        "kind": dice.choice(("incident", "person-on-track")),
        "partner": dice.choice(core.layout.posts),
    },
    "lift": lambda dice, _, holds: {
        "hold": dice.choice([*holds, "stop:E"]),
        "checked": dice.random() < 0.9,
        "reason": "seen clear",
    },
    "clear": lambda *_: {"checked": True},
    "stage": lambda dice, core, _: {"entries": _group(dice, core)},
    "prepare": lambda dice, core, _: {"entries": _group(dice, core)},
    "confirm": lambda dice, core, _: {"item": dice.choice(core.layout.checklist)},
    "arm": lambda *_: {},
    "disarm": lambda *_: {},
    "start": lambda *_: {},
    "let-out": lambda dice, core, _: {"kart": dice.choice(core.layout.karts)},
    "finish": lambda *_: {},
    "close": lambda *_: {},
    "slow-one": lambda dice, core, _: {"kart": dice.choice(core.layout.karts)},
    "stop-one": lambda dice, core, _: {"kart": dice.choice(core.layout.karts)},
    "disqualify-one": lambda dice, core, _: {"kart": dice.choice(core.layout.karts)},
    "account": lambda dice, core, _: {
        "kart": dice.choice(core.layout.karts),
        "where": dice.choice(("pit", "aside")),
        "checked": True,
    },
    "button-reset": lambda dice, core, _: {"kart": dice.choice(core.layout.karts), "checked": True},
    "move-over-one": lambda dice, core, _: {"kart": dice.choice(core.layout.karts)},
    "withdraw-one": lambda dice, core, _: {"kart": dice.choice(core.layout.karts)},
    "lend": lambda *_: {},
    "give-back": lambda *_: {},
    "show": lambda dice, core, _: {"head": dice.choice(core.layout.heads), "aspect": "green"},
    "wet": lambda *_: {},
    "dry": lambda *_: {},
}
"""Words and how their fields are drawn."""
FORWARD = {
    "closed": ("stage",),
    "test": ("show", "give-back"),
    "staging": ("confirm", "confirm", "confirm", "arm"),
    "armed": ("start",),
    "racing": ("let-out", "move-over-one"),
    "finishing": ("account", "close"),
}
"""Words that bring a session on: asked more often, or no walk would leave the pit."""
HAPPENS = ("head-lost", "kart-lost", "kart-at", "kart-at", "kart-at", "kart-pressed", "monitor-lost")


def _group(dice: Random, core: Core) -> tuple[Member, ...]:
    karts = dice.sample(core.layout.karts, dice.randint(1, 2))
    return tuple(Member(kart, f"Driver {kart}", core.layout.kart_class[kart]) for kart in karts)


def ask(dice: Random, core: Core, phase: str, holds: list[str]) -> tuple[str, str, dict[str, Any]]:
    """Draw a call in this phase while these holds stand: its word, who calls, and its fields."""
    forward = ("lift",) if any(holds) else ("clear",) if holds else FORWARD[phase]
    word = dice.choice(forward if dice.random() < 0.7 else tuple(ASKED))
    post = "desk" if dice.random() < 0.9 else dice.choice(core.layout.posts)
    return word, post, ASKED[word](dice, core, [hold for hold in holds if hold])


def walk(dice: Random, core: Core, steps: int, now_ms: int) -> State:
    """Walk some way into a session, then by whatever comes; gives the state reached."""
    ids = count(1)
    fields: dict[str, Any] = {"verdict": "open", "until": now_ms * 2}
    state = core.step(core.begin("walk"), Event("opening-set", fields=fields), now_ms).state
    for event in _session(dice, core):
        now_ms += 6_000
        asked = replace(event, id=f"s{next(ids)}", seen=(state.boot, state.serial))
        state = core.step(state, asked, now_ms).state
    for _ in range(steps):
        now_ms += dice.choice((10, 1_000, 6_000))
        repairs = list(_repairs(core, state))
        if repairs and dice.random() < 0.5:
            event = dice.choice(repairs)
        elif dice.random() < 0.9:
            word, post, given = ask(dice, core, core.picture(state).phase, _holds(core, state))
            event = Event(word, post, given, f"w{next(ids)}", (state.boot, state.serial))
        else:
            event = _happening(dice, core)
        state = core.step(state, event, now_ms).state
    return state


def _session(dice: Random, core: Core) -> list[Event]:
    """Give the first so many events of a session that goes well."""
    entries = _group(dice, core)
    events = [Event("stage", "desk", {"entries": entries})]
    events += [Event("confirm", "desk", {"item": item}) for item in core.layout.checklist]
    events += [Event("arm", "desk"), Event("start", "desk")]
    for member in entries:
        events.append(Event("let-out", "desk", {"kart": member.kart}))
        events.append(Event("kart-at", fields={"kart": member.kart, "where": core.layout.after_pit}))
    return events[: dice.randint(0, len(events))]


def _holds(core: Core, state: State) -> list[str]:
    """Name the standing holds; "" for recovery, which nobody can lift."""
    return [hold.key if hold.what != "recovery" else "" for hold in core.picture(state).holds]


def _repairs(core: Core, state: State) -> Iterator[Event]:
    """Give what would mend the faults that stand."""
    picture = core.picture(state)
    for head, health in picture.heads.items():
        if health == "lost":
            yield Event("head-back", fields={"head": head})
    for kart, seen in picture.karts.items():
        if not seen.link:
            yield Event("kart-back", fields={"kart": kart})
        if seen.place == "unknown":
            yield Event("kart-at", fields={"kart": kart, "where": "pit"})
    if picture.monitor != "ok":
        yield Event({"lost": "monitor-back", "tripped": "monitor-reset"}[picture.monitor])


def _happening(dice: Random, core: Core) -> Event:
    word = dice.choice(HAPPENS)
    layout = core.layout
    fields: dict[str, Any] = {"reason": "dice"}
    if word.startswith("head"):
        fields["head"] = dice.choice(layout.heads)
    elif word.startswith("kart"):
        fields["kart"] = dice.choice(layout.karts)
    if word == "kart-at":
        fields["where"] = dice.choice(layout.sectors)
    return Event(word, fields=fields)
