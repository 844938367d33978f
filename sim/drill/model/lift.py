"""Lifting: a hold ends once its place has looked empty for a moment, and not before."""

from __future__ import annotations

from collections.abc import Iterator

from signals.mqtt.contract import HoldView, State
from signals.words import EQUIPMENT, PIT, HoldKind, Word
from sim.drill.deeds import Deed
from sim.drill.model.manner import Manner
from sim.drill.model.memory import STANDS_KMH, Memory, ours, own
from sim.drill.model.restrict import NOW
from sim.drill.seat import Eyes

CHECKS_S = 1.5
"""How long a place must have looked empty."""
AGAIN_S = 2.5
SEEN = "checked, nobody on the road"


def lifts(eyes: Eyes, state: State, memory: Memory, manner: Manner) -> Iterator[Deed]:
    """Lift what may be lifted from here; then clear."""
    reds = [hold for hold in state.holds if hold.what == "stop"]
    if reds:
        yield from _reds(eyes, state, memory, manner, reds)
        return
    for hold in state.holds:
        if (
            hold.what == "caution"
            and _may(eyes, state, memory, manner, hold)
            and _empty(eyes, memory, manner, hold)
        ):
            key = f"caution:{hold.where}:{hold.post}"
            if memory.may_try(key, eyes.now_s, AGAIN_S):
                yield Deed(at_s=NOW, call=Word.LIFT, hold=key, checked=True, reason=SEEN)
    yield from _clears(eyes, state, memory, manner)
    yield from _withdraws(eyes, state, memory)


def _may(eyes: Eyes, state: State, memory: Memory, manner: Manner, hold: HoldView) -> bool:
    """Whether this post lifts it: its own, the equipment's in its sectors, a colleague's who asked for it."""
    if own(eyes, hold):
        return True
    if hold.post == EQUIPMENT:
        return ours(eyes, hold.where or "") and not _faulty(state)
    asked = memory.heard(eyes, "free", hold.where)
    return eyes.post.supervisor and (asked or manner.hurries) and hold.kind is not HoldKind.PERSON_ON_TRACK


def _faulty(state: State) -> bool:
    """Whether something of the equipment is lost: its yellow is about that."""
    return any(head.health == "lost" for head in state.heads.values()) or not all(
        kart.link for kart in state.karts.values()
    )


def _empty(eyes: Eyes, memory: Memory, manner: Manner, hold: HoldView) -> bool:
    """Whether its sector has looked empty for long enough; or somebody does not care."""
    if manner.lifts_after_s is not None and own(eyes, hold):
        key = f"{hold.what}{hold.where}"
        return memory.lasting_s(key, eyes.now_s, holds=True) >= manner.lifts_after_s
    return memory.clean_for(hold.where or "", eyes.now_s) >= CHECKS_S + manner.holds_on_s


def _reds(eyes: Eyes, state: State, memory: Memory, manner: Manner, reds: list[HoldView]) -> Iterator[Deed]:
    """Lift red once everything looks empty and every kart stands; an equipment's once its cause is gone."""
    rings = bool(state.faults) and any(hold.post == EQUIPMENT for hold in reds)
    if rings or not all(_empty_everywhere(eyes, memory, manner, hold) for hold in reds):
        return
    for hold in reds:
        told = hold.post == EQUIPMENT or memory.heard(eyes, "free", None) or manner.hurries
        mine = own(eyes, hold) or (eyes.post.supervisor and told)
        if mine and memory.may_try(f"stop:{hold.post}", eyes.now_s, AGAIN_S):
            yield Deed(at_s=NOW, call=Word.LIFT, hold=f"stop:{hold.post}", checked=True, reason=SEEN)


def _empty_everywhere(eyes: Eyes, memory: Memory, manner: Manner, hold: HoldView) -> bool:
    if manner.lifts_after_s is not None and own(eyes, hold):
        return memory.lasting_s("stop", eyes.now_s, holds=True) >= manner.lifts_after_s
    stand = all(kart.speed_kmh < STANDS_KMH for kart in eyes.view.karts if not kart.in_pit)
    stood_s = memory.lasting_s("stand", eyes.now_s, holds=stand)
    least_s = min(memory.clean_for(sector.id, eyes.now_s) for sector in eyes.venue.sectors)
    return min(stood_s, least_s) >= CHECKS_S + manner.holds_on_s


def _clears(eyes: Eyes, state: State, memory: Memory, manner: Manner) -> Iterator[Deed]:
    """End the recovery after a red, once no yellow stands."""
    recovers = any(hold.what == "recovery" for hold in state.holds)
    if not recovers or any(hold.what == "caution" for hold in state.holds) or "clear" in manner.skips:
        return
    least_s = min(memory.clean_for(sector.id, eyes.now_s) for sector in eyes.venue.sectors)
    if (least_s >= CHECKS_S or manner.lifts_after_s is not None) and memory.may_try(
        "clear", eyes.now_s, AGAIN_S
    ):
        yield Deed(at_s=NOW, call=Word.CLEAR, checked=True)


def _withdraws(eyes: Eyes, state: State, memory: Memory) -> Iterator[Deed]:
    """Let a kart go that was stopped, once nothing is amiss with it any more."""
    amiss = {sight.kart for sight in memory.there(eyes)}
    for number, kart in state.karts.items():
        well_s = memory.lasting_s(f"well-{number}", eyes.now_s, holds=int(number) not in amiss)
        stopped = kart.slowed == "stop" and kart.place != PIT
        if stopped and well_s >= CHECKS_S and memory.may_try(f"go-{number}", eyes.now_s, AGAIN_S):
            yield Deed(at_s=NOW, call=Word.WITHDRAW_ONE, kart=int(number))
