"""What each sign asks for, called as soon as it was noticed and thought about; people protected first."""

from __future__ import annotations

from collections.abc import Iterator

from signals.mqtt.contract import State
from signals.words import EQUIPMENT, PIT, HoldKind, InputKind, Word
from sim.drill.asks import ASKS, Asks
from sim.drill.deeds import Deed
from sim.drill.model.manner import Manner
from sim.drill.model.memory import (
    DECIDES_S,
    NOTICES_S,
    STANDS_KMH,
    Memory,
    Sight,
    on_foot,
    ours,
    own,
    place_of,
)
from sim.drill.seat import Eyes

AGAIN_S = 2.5
"""Before something is called again that did not take."""
NOW = 0.0
MOST_LOST = 0.5
"""With more of the heads lost than this it is the power."""


OF_KARTS = frozenset({Word.STOP_ONE, Word.DISQUALIFY_ONE})
_ORDER = {event: number for number, event in enumerate(ASKS)}


def marks(eyes: Eyes, memory: Memory, manner: Manner) -> Iterator[Deed]:
    """Touch what was noticed: before anything is decided."""
    for sight in memory.there(eyes):
        if not sight.marked and eyes.now_s - sight.since_s >= NOTICES_S + manner.waits_s:
            sight.marked = True
            where = manner.sectors.get(sight.where, sight.where)
            yield Deed(at_s=NOW, seen=where) if sight.kart is None else Deed(at_s=NOW, seen_kart=sight.kart)


def answers(eyes: Eyes, state: State, memory: Memory, manner: Manner) -> Iterator[Deed]:
    """Call what signs ask for, the gravest first."""
    takes_s = NOTICES_S + DECIDES_S + manner.waits_s
    due = [each for each in memory.there(eyes) if not each.answered and eyes.now_s - each.since_s >= takes_s]
    for sight in sorted(due, key=lambda each: _ORDER.get(each.event, len(_ORDER))):
        asks = ASKS.get(sight.event)
        if asks is None:
            continue
        if manner.walks_first and memory.may_try(f"walk-{sight.where}", eyes.now_s, 1e6):
            yield Deed(at_s=NOW, walk=sight.where)
            return
        if asks.word in OF_KARTS and _in_pit(sight, state):
            continue
        sight.answered = True
        if not _stands(asks, sight, eyes, state):
            yield _call(asks, sight, eyes, manner)
            return


def _call(asks: Asks, sight: Sight, eyes: Eyes, manner: Manner) -> Deed:
    word = manner.words.get(asks.word, asks.word)
    kind = asks.kind if word is asks.word else None
    if word is Word.STOP:
        return Deed(at_s=NOW, call=word, kind=kind)
    if word is Word.CAUTION:
        return Deed(at_s=NOW, call=word, kind=kind, where=manner.sectors.get(sight.where, sight.where))
    return Deed(at_s=NOW, call=word, kart=_misread(sight.kart, eyes) if manner.other_kart else sight.kart)


def _misread(kart: int | None, eyes: Eyes) -> int | None:
    """Give another kart that drives."""
    return next((each.number for each in eyes.view.karts if each.number != kart and not each.in_pit), kart)


def _stands(asks: Asks, sight: Sight, eyes: Eyes, state: State) -> bool:
    """Whether what a sign asks for stands by this post's call already; under red no yellow is needed."""
    reds = [hold for hold in state.holds if hold.what == "stop"]
    if asks.word is Word.STOP:
        return any(own(eyes, hold) for hold in reds)
    if asks.word is Word.CAUTION:
        mine = any(own(eyes, hold) and hold.where == sight.where for hold in state.holds)
        return mine or any(hold.post != EQUIPMENT for hold in reds)
    view = state.karts.get(str(sight.kart))
    if view is None:
        return True
    return view.slowed == "stop" if asks.word is Word.STOP_ONE else view.call == "disqualified"


def stopped(eyes: Eyes, state: State, memory: Memory, manner: Manner) -> Iterator[Deed]:
    """Yellow where a kart stands that was stopped by a call: it has rolled on since."""
    for kart in eyes.view.karts:
        view = state.karts.get(str(kart.number))
        if view is None or view.slowed != "stop" or kart.in_pit or kart.speed_kmh >= STANDS_KMH:
            continue
        where = place_of(eyes, kart)
        held = any(own(eyes, hold) and hold.where in (None, where) for hold in state.holds)
        if not held and ours(eyes, where) and memory.may_try(f"stopped-{where}", eyes.now_s, AGAIN_S):
            yield Deed(at_s=NOW, call=Word.CAUTION, where=manner.sectors.get(where, where))


def _in_pit(sight: Sight, state: State) -> bool:
    """Whether a kart is off the track: nothing can be called on it yet, or any more."""
    view = state.karts.get(str(sight.kart))
    return view is None or view.place in (PIT, "aside")


def people(eyes: Eyes, state: State, memory: Memory, manner: Manner) -> Iterator[Deed]:
    """Yellow for a person on the track wherever somebody walks, or is about to."""
    if any(hold.what == "stop" for hold in state.holds) or "person" in manner.skips:
        return
    for person, where in on_foot(eyes):
        kinds = {hold.kind for hold in state.holds if own(eyes, hold) and hold.where == where}
        since_s = memory.people.get((person.who, str(person.kart or where)), eyes.now_s)
        takes_s = DECIDES_S if kinds else NOTICES_S + DECIDES_S + manner.waits_s
        if HoldKind.PERSON_ON_TRACK in kinds or eyes.now_s - since_s < takes_s or not ours(eyes, where):
            continue
        if (kinds or person.on_road) and memory.may_try(f"person-{where}", eyes.now_s, AGAIN_S):
            place = manner.sectors.get(where, where)
            yield Deed(at_s=NOW, call=Word.CAUTION, where=place, kind=HoldKind.PERSON_ON_TRACK)


def alarms(eyes: Eyes, state: State, memory: Memory, manner: Manner) -> Iterator[Deed]:
    """Add the own red to an alarm's; red where most heads are lost."""
    ringing = any(hold.what == "stop" and hold.post == EQUIPMENT for hold in state.holds)
    lost = sum(head.health == "lost" for head in state.heads.values()) > MOST_LOST * len(state.heads)
    there = (ringing or lost) and "alarm" not in manner.skips
    lasts_s = memory.lasting_s("alarm", eyes.now_s, holds=there)
    mine = any(hold.what == "stop" and own(eyes, hold) for hold in state.holds)
    if there and not mine and lasts_s >= NOTICES_S + DECIDES_S + manner.waits_s:
        word = manner.words.get(Word.STOP, Word.STOP)
        if word is Word.STOP and memory.may_try("alarm", eyes.now_s, AGAIN_S):
            yield Deed(at_s=NOW, call=word, kind=HoldKind.FIRE if ringing else None)


def words(eyes: Eyes, memory: Memory, manner: Manner) -> Iterator[Deed]:
    """Look where the radio says; whoever jumps at words calls without looking."""
    for cue in eyes.radio:
        if cue.about == "look" and memory.may_try(f"look-{cue.id}", eyes.now_s, 1e6):
            if manner.jumps:
                yield Deed(at_s=NOW, call=Word.STOP)
            elif cue.where is not None:
                yield Deed(at_s=NOW, seen=cue.where)


def boxes(eyes: Eyes, memory: Memory, manner: Manner) -> Iterator[Deed]:
    """Press a call box where the own device is dead: the sector's yellow, or the post's red."""
    takes_s = NOTICES_S + 2 * DECIDES_S + manner.waits_s
    for sight in memory.there(eyes):
        asks = ASKS.get(sight.event)
        if asks is None or sight.answered or eyes.now_s - sight.since_s < takes_s or "box" in manner.skips:
            continue
        sight.answered = True
        box = _box(eyes, sight.where if asks.word is Word.CAUTION else None)
        if box is not None:
            yield Deed(at_s=NOW, box=box)


def _box(eyes: Eyes, where: str | None) -> str | None:
    """Give the box that cautions a sector; else one that stops."""
    inputs = eyes.venue.inputs
    yellow = (each.id for each in inputs if each.kind is InputKind.CAUTION_BOX and each.sector == where)
    red = (each.id for each in inputs if each.kind is InputKind.STOP_BOX and each.id.endswith(eyes.post.id))
    return next(yellow, None) or next(red, None)
