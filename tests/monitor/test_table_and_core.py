"""Two tables written apart agree: whatever the core decides, the monitor's table finds nothing less than due.

A walk of random events through the core; every state it comes to is judged by the monitor's table.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from typing import Any

from signals.controller.layout import layout_of
from signals.core.machine import Core
from signals.core.state import Event, Member, Picture, State
from signals.core.table import EQUIPMENT_WORDS
from signals.monitor.table import KartSeen, Situation, due_aspect, less, most_kmh
from signals.venue.model import Venue
from signals.words import Phase, Word
from tests.controller.made import harbour

NOW_MS = 1_900_000_000_000
WALKS = 150
STEPS = 15


def situation(picture: Picture) -> Situation:
    """See a picture as the monitor sees `state`."""
    cautions = [hold for hold in picture.holds if hold.what == "caution"]
    return Situation(
        phase=picture.phase,
        stop=any(hold.what == "stop" for hold in picture.holds),
        urgent=any(hold.what == "stop" and hold.kind in ("fire", "medical") for hold in picture.holds),
        recovery=any(hold.what == "recovery" for hold in picture.holds),
        cautions=frozenset(str(hold.where) for hold in cautions),
        persons=frozenset(str(hold.where) for hold in cautions if hold.kind == "person-on-track"),
        wet=picture.surface == "wet",
        karts={
            number: KartSeen(kart.place, kart.call, kart.slowed, kart.let_out, kart.button)
            for number, kart in picture.karts.items()
        },
    )


def event(dice: random.Random, venue: Venue, state: Any, picture: Picture) -> Event:
    """Draw an event that has a fair chance of being accepted."""
    kart = dice.choice(venue.karts).number
    holds = [hold.key for hold in picture.holds if hold.what != "recovery"] or ["stop:desk"]
    fields = {
        "kart": kart,
        "to": dice.choice(venue.karts).number,
        "head": dice.choice(venue.heads).id,
        "input": dice.choice(venue.inputs).id,
        "where": dice.choice([sector.id for sector in venue.sectors]),
        "hold": dice.choice(holds),
        "kind": dice.choice(["incident", "incident", "fire", "person-on-track"]),
        "partner": "p1",
        "item": dice.choice(venue.checklist).id,
        "checked": True,
        "reason": "because",
        "verdict": "open",
        "aspect": "green",
        "limit_kmh": 10.0,
    }
    if dice.random() < 0.15:
        return Event(dice.choice([*EQUIPMENT_WORDS, "restart"]), "E", fields)
    words = [
        *Word,
        *[Word.LIFT, Word.CLEAR, Word.STAGE, Word.CONFIRM, Word.ARM, Word.START, Word.ACCOUNT] * 3,
    ]
    word = dice.choice(words)
    if word is Word.ACCOUNT:
        fields["where"] = dice.choice(["pit", "aside"])
    return Event(word, "desk", fields, f"i{dice.random()}", (state.boot, state.serial))


def raced(core: Core, venue: Venue) -> tuple[State, int]:
    """Bring a core to racing with karts 1 and 2 out, kart 7 about to leave the pit."""
    state, now_ms = core.begin("boot1"), NOW_MS
    words: list[tuple[str, dict[str, Any]]] = [
        ("verdict", {"verdict": "open", "until": 1, "checked": True}),
        ("stage", {"entries": tuple(Member(kart, f"driver {kart}", "adult") for kart in (1, 2, 7))}),
        *(("confirm", {"item": item.id}) for item in venue.checklist),
        ("arm", {}),
        ("start", {}),
    ]
    for kart, sector in ((1, "s1"), (2, "s4")):
        words += [("let-out", {"kart": kart}), ("kart-rolls", {"kart": kart})]
        words += [("kart-at", {"kart": kart, "where": sector})]
    words.append(("let-out", {"kart": 7}))
    for number, (word, fields) in enumerate(words):
        now_ms += 5000
        post = "E" if word in EQUIPMENT_WORDS else "desk"
        decision = core.step(
            state, Event(word, post, fields, f"b{number}", (state.boot, state.serial)), now_ms
        )
        assert decision.accepted, (word, decision.refusals)
        state = decision.state
    return state, now_ms


def test_the_core_never_decides_less_than_the_monitor_finds_due() -> None:
    venue = harbour()
    core = Core(layout_of(venue, NOW_MS))
    beginnings = [raced(core, venue), raced(core, venue), (core.begin("boot1"), NOW_MS)]
    seen: set[str] = set()
    for seed in range(WALKS):
        dice = random.Random(seed)  # noqa: S311 - a walk, no secret
        state, now_ms = beginnings[seed % 3]
        for _ in range(STEPS):
            now_ms += dice.choice([10, 1000, 6000])
            state = core.step(state, event(dice, venue, state, core.picture(state)), now_ms).state
            picture = core.picture(state)
            if picture.phase is not Phase.TEST:
                seen |= {picture.phase, *judge(venue, picture)}
    assert seen >= {"racing", "finishing", "staging", "closed"}
    assert seen >= {"red", "yellow-flash", "red-yellow", "dark", "green"}
    assert seen >= {
        "stop",
        "caution in s1",
        "recovery",
        "fire or medical",
        "finish",
        "class adult",
        "pit lane",
    }
    assert seen >= {"a person on the track in s1", "slowed", "stopped", "disqualified", "set aside"}


def judge(venue: Venue, picture: Picture) -> Iterator[str]:
    """Compare, and tell which rows of the monitor's table were in use."""
    now = situation(picture)
    for head in venue.heads:
        aspect, _, _ = picture.aspects[head.id]
        due = due_aspect(venue, head, now)
        assert picture.heads[head.id] == "out-of-service" or not less(aspect, due), (
            head.id,
            aspect,
            due,
            now,
        )
        yield due
    for kart in venue.karts:
        cap, why = most_kmh(venue, kart, now)
        assert picture.karts[kart.number].limit_kmh <= cap, (kart.number, why, now)
        yield why
