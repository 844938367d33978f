"""From a closed venue to a race with one kart out, by plain calls: what a marshal does, in order.

Leases run in real time: on a busy machine a node may fall silent for a moment, and equipment places
its holds. A marshal then looks, lifts them and calls again; so does `persist`.
"""

from __future__ import annotations

import time
from typing import Any

from tests.system.outside import Listener, Post, Run

GROUP = [{"number": 1, "driver": "Ada", "class": "adult"}, {"number": 2, "driver": "Bo", "class": "adult"}]
ITEMS = ("briefing", "helmets", "belts", "track")
FULL_KMH = 45
NEAR_THE_EXIT = b'{"id":"r1","event":"kart-enters","kart":1}'
"""The way along the pit lane takes half a minute: the kart begins it near its end."""
PERSIST_S = 30.0
LOOK_AGAIN_S = 1.0
LOOKED = {"checked": True, "reason": "all were seen standing"}


def race(run: Run, desk: Post, ear: Listener) -> None:
    """Bring a group in, start, let kart 1 out, and wait until it drives at full speed."""
    persist(run, desk, ear, "prepare", entries=GROUP)
    persist(run, desk, ear, "stage")
    for item in ITEMS:
        persist(run, desk, ear, "confirm", item=item)
    start(run, desk, ear)
    persist(run, desk, ear, "let-out", kart=1)
    run.publish("instructor", "inject/world", NEAR_THE_EXIT)
    at_full_speed(run, desk, ear)


def start(run: Run, desk: Post, ear: Listener) -> None:
    """Get ready and start; what equipment places in between takes the readiness back, so both come anew."""
    deadline = time.monotonic() + PERSIST_S
    while (phase := ear.says("state")["phase"]) != "racing":
        answer = desk.call("start" if phase == "armed" else "arm")
        assert time.monotonic() < deadline, answer["refusals"]
        if not answer["accepted"]:
            lift_equipments(run, desk, ear)
        ear.until(lambda phase=phase: ear.says("state")["phase"] != phase, LOOK_AGAIN_S)


def at_full_speed(run: Run, desk: Post, ear: Listener) -> None:
    """Wait until kart 1 drives at full speed, lifting what equipment placed in between."""
    deadline = time.monotonic() + PERSIST_S
    while not ear.until(lambda: ear.taken()["1"] == FULL_KMH and on_track(ear, "1"), LOOK_AGAIN_S):
        assert time.monotonic() < deadline, ear.says("state")
        lift_equipments(run, desk, ear)


def on_track(ear: Listener, kart: str) -> bool:
    """Whether a kart drives somewhere on the track."""
    where = ear.says(f"kart/{kart}/where")
    return not where["in_pit"] and (where["speed_kmh"] or 0) > 0


def persist(run: Run, desk: Post, ear: Listener, word: str, **fields: Any) -> None:
    """Call until it is accepted, lifting what equipment placed in between."""
    deadline = time.monotonic() + PERSIST_S
    while not (answer := desk.call(word, **fields))["accepted"]:
        assert time.monotonic() < deadline, f"{word}: {answer['refusals']}"
        seq = ear.says("state")["seq"]
        if word != "lift":
            lift_equipments(run, desk, ear, clears=word != "clear")
        ear.until(lambda seq=seq: ear.says("state")["seq"] != seq, 0.5)
    ear.until(lambda: ear.says("state")["seq"] >= answer["seq"])


def lift_equipments(run: Run, desk: Post, ear: Listener, *, clears: bool = True) -> None:
    """Reset the monitor, lift every hold that equipment placed, then clear what is left of a stop."""
    if ear.says("state")["monitor"] == "tripped":
        run.publish("post-desk", "monitor/reset/desk", b'{"reason":"looked at it"}')
    for hold in ear.says("state")["holds"]:
        if hold["post"] == "E":
            desk.call("lift", hold=key_of(hold), **LOOKED)
    holds = ear.says("state")["holds"]
    if clears and holds and all(hold["what"] == "recovery" for hold in holds):
        desk.call("clear", checked=True)


def key_of(hold: dict[str, Any]) -> str:
    """Name a hold as a lift names it."""
    return ":".join(part for part in (hold["what"], hold["where"], hold["post"]) if part)
