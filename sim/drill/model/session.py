"""The steps of a session and of single karts: blue, black, the button, the pit, start, finish and home."""

from __future__ import annotations

from collections.abc import Iterator

from signals.mqtt.contract import State, WorldKart
from signals.words import PIT, Phase, Word
from sim.drill.deeds import Deed
from sim.drill.load import fleet
from sim.drill.model.manner import Manner
from sim.drill.model.memory import DECIDES_S, NOTICES_S, STANDS_KMH, Memory, ours, place_of
from sim.drill.model.restrict import NOW
from sim.drill.seat import Eyes

HELD_UP_M, HELD_UP_S = 14.0, 8.0
"""How near behind a slow kart somebody is held up; how long blue may be ignored before it is black."""
SLOW = "slow-kart"
STEP_S, GAP_SPARE_S, AGAIN_S = 1.0, 0.5, 3.0
HOME_S = 2.0
"""How long all must have stood at home before the session is closed."""
AT_KART_S = 3.0
"""How long a kart must have stood before somebody who went there resets its button."""


def karts(eyes: Eyes, state: State, memory: Memory, manner: Manner) -> Iterator[Deed]:
    """Call for single karts: blue and black for one that holds others up, a button that was pressed."""
    if state.phase is not Phase.RACING:
        return
    for sight in memory.there(eyes):
        kart = next((each for each in eyes.view.karts if each.number == sight.kart), None)
        if sight.event == SLOW and kart is not None and not kart.in_pit:
            yield from _blue(eyes, state, memory, manner, kart)
    yield from _buttons(eyes, state, memory, manner)


def _blue(eyes: Eyes, state: State, memory: Memory, manner: Manner, kart: WorldKart) -> Iterator[Deed]:
    behind, view = _follower(eyes, kart), state.karts.get(str(kart.number))
    held = view is not None and state.sectors.get(view.place) in ("stop", "caution")
    if held and manner.blue_anywhere and memory.may_try(f"blue-{kart.number}", eyes.now_s, AGAIN_S):
        yield Deed(at_s=NOW, call=Word.MOVE_OVER_ONE, kart=kart.number)
        return
    held_up_s = memory.lasting_s(f"held-up-{kart.number}", eyes.now_s, holds=behind is not None)
    if behind is None or view is None or view.place != place_of(eyes, kart):
        return
    ignored_s = memory.lasting_s(f"blue-{kart.number}", eyes.now_s, holds=view.call == "move-over")
    number = behind.number if manner.other_kart else kart.number
    takes_s = NOTICES_S + DECIDES_S + manner.waits_s
    now_s = eyes.now_s
    blue = view.call == "none" and held_up_s >= takes_s and not held
    black = ignored_s >= HELD_UP_S + manner.waits_s and "black" not in manner.skips
    if blue and memory.may_try(f"call-blue-{kart.number}", now_s, AGAIN_S):
        word = manner.words.get(Word.MOVE_OVER_ONE, Word.MOVE_OVER_ONE)
        yield Deed(at_s=NOW, call=word, kart=None if word is Word.STOP else number)
    elif black and memory.may_try(f"call-black-{kart.number}", now_s, AGAIN_S):
        yield Deed(at_s=NOW, call=Word.DISQUALIFY_ONE, kart=number)


def _follower(eyes: Eyes, kart: WorldKart) -> WorldKart | None:
    """Give the kart that is held up behind another."""
    ahead_m = eyes.track.ahead_m
    near = (
        (ahead_m(other.at_m, kart.at_m), other.number, other)
        for other in eyes.view.karts
        if other.number != kart.number and not other.in_pit
    )
    found = min((each for each in near if each[0] < HELD_UP_M), default=None)
    return None if found is None else found[2]


def _buttons(eyes: Eyes, state: State, memory: Memory, manner: Manner) -> Iterator[Deed]:
    """Reset a pressed button once the kart has stood for a while: somebody is there by then."""
    seen = {kart.number: kart for kart in eyes.view.karts}
    for number, view in state.karts.items():
        kart = seen.get(int(number))
        stands = view.button and kart is not None and kart.speed_kmh < STANDS_KMH
        stood_s = memory.lasting_s(f"button-{number}", eyes.now_s, holds=stands)
        due_s = 0.0 if manner.hurries else AT_KART_S + manner.holds_on_s
        pressed = view.button if manner.hurries else stands
        due = pressed and ours(eyes, view.place) and stood_s >= due_s and "button" not in manner.skips
        if due and memory.may_try(f"reset-{number}", eyes.now_s, AGAIN_S):
            yield Deed(at_s=NOW, call=Word.BUTTON_RESET, kart=int(number), checked=True)


def steps(eyes: Eyes, state: State, memory: Memory, manner: Manner) -> Iterator[Deed]:
    """Take the session on: what comes next, once it may."""
    if not eyes.post.supervisor and state.phase is not Phase.RACING:
        return
    match state.phase:
        case Phase.CLOSED:
            yield from _stage(eyes, memory)
        case Phase.STAGING:
            yield from _confirm(eyes, state, memory, manner)
        case Phase.ARMED:
            if _pit_is_empty(eyes) or manner.hurries:
                yield from _step(memory, eyes, Word.START)
        case Phase.RACING:
            yield from _racing(eyes, state, memory, manner)
        case Phase.FINISHING:
            yield from _home(eyes, state, memory, manner)


def _step(memory: Memory, eyes: Eyes, word: Word) -> Iterator[Deed]:
    if memory.may_try("step", eyes.now_s, STEP_S):
        yield Deed(at_s=NOW, call=word)


def _stage(eyes: Eyes, memory: Memory) -> Iterator[Deed]:
    if eyes.group is not None and eyes.group.next is not None:
        yield from _step(memory, eyes, Word.STAGE)


def _confirm(eyes: Eyes, state: State, memory: Memory, manner: Manner) -> Iterator[Deed]:
    """Confirm item after item, then ready; with somebody in the pit lane, wait."""
    checklist = eyes.group.checklist if eyes.group else {}
    open_ = [item for item, done in checklist.items() if done is None and item not in manner.skips]
    if open_ and memory.may_try("step", eyes.now_s, STEP_S):
        yield Deed(at_s=NOW, call=Word.CONFIRM, item=open_[0])
    elif not open_ and (_pit_is_empty(eyes) or manner.hurries) and not (state.holds and not manner.hurries):
        yield from _step(memory, eyes, Word.ARM)


def _pit_is_empty(eyes: Eyes) -> bool:
    """Whether nobody walks in the pit lane, or towards it."""
    return not any(person.on_road or person.who == "visitor" for person in eyes.view.people)


def _racing(eyes: Eyes, state: State, memory: Memory, manner: Manner) -> Iterator[Deed]:
    if any(cue.about == "time-up" for cue in eyes.radio) and eyes.post.supervisor:
        heard_s = memory.lasting_s("time-up", eyes.now_s, holds=True)
        if heard_s >= NOTICES_S + DECIDES_S + manner.waits_s and "finish" not in manner.skips:
            yield from _step(memory, eyes, Word.FINISH)
        return
    if not _may_let_out(eyes):
        return
    swap = _swap(eyes, state, memory, manner)
    if swap is not None:
        yield swap
        return
    yield from _lets_out(eyes, state, memory, manner)


def _may_let_out(eyes: Eyes) -> bool:
    return eyes.post.supervisor or "let-out" in eyes.post.may


def _swap(eyes: Eyes, state: State, memory: Memory, manner: Manner) -> Deed | None:
    """Give a driver another kart, as was asked for on the radio, once his stands in the pit."""
    members = {entry.number for entry in eyes.group.karts} if eyes.group else set()
    for cue in eyes.radio:
        view = state.karts.get(str(cue.kart))
        if cue.about != "swap" or view is None or cue.kart not in members or view.place != PIT:
            continue
        free = [number for number in fleet(eyes.venue) if number not in members]
        if free and "swap" not in manner.skips and memory.may_try("swap", eyes.now_s, AGAIN_S):
            kart = _another(cue.kart, members) if manner.other_kart else cue.kart
            return Deed(at_s=NOW, call=Word.SWAP, kart=kart, to=free[0])
    return None


def _another(kart: int, members: set[int]) -> int:
    return next((number for number in sorted(members) if number != kart), kart)


def _lets_out(eyes: Eyes, state: State, memory: Memory, manner: Manner) -> Iterator[Deed]:
    """Let one kart out after the other, each after the gap; none towards people, red or yellow."""
    asked = {cue.kart for cue in eyes.radio if cue.about == "swap"} if "swap" not in manner.skips else set()
    waiting = [
        entry.number
        for entry in (eyes.group.karts if eyes.group else [])
        if (view := state.karts.get(str(entry.number)))
        and view.place == PIT
        and not view.let_out
        and view.call != "disqualified"
        and entry.number not in asked
    ]
    seen = {kart.number: kart for kart in eyes.view.karts}
    still = [number for number in waiting if number in seen and seen[number].speed_kmh < STANDS_KMH]
    held = state.sectors.get(PIT) in ("stop", "caution") or not _pit_is_empty(eyes)
    looked_s = memory.lasting_s("waiting", eyes.now_s, holds=bool(still))
    if looked_s < NOTICES_S + DECIDES_S:
        return
    if still and (not held or manner.hurries) and "let-out" not in manner.skips:
        gap_s = 1.2 if manner.hurries else eyes.venue.timing.gap / 1000 + GAP_SPARE_S
        if memory.may_try("let-out", eyes.now_s, max(gap_s, STEP_S)):
            yield Deed(at_s=NOW, call=Word.LET_OUT, kart=still[0])


def _home(eyes: Eyes, state: State, memory: Memory, manner: Manner) -> Iterator[Deed]:
    """Close once every kart was counted home and stands."""
    del state
    home = all(kart.in_pit and kart.speed_kmh < STANDS_KMH for kart in eyes.view.karts)
    home_s = memory.lasting_s("home", eyes.now_s, holds=home)
    miscounts = manner.hurries and sum(not kart.in_pit for kart in eyes.view.karts) <= 1
    if home_s >= HOME_S + manner.holds_on_s:
        yield from _step(memory, eyes, Word.CLOSE)
    elif miscounts and memory.may_try("miscounted", eyes.now_s, AGAIN_S):
        yield Deed(at_s=NOW, call=Word.CLOSE)
