"""The way home: whatever stands is lifted, cleared, closed, until the venue is as before opening.

Only for a closed track that somebody has looked at: every lift here says so. A session that was under
way is never brought home by this.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable

from signals.mqtt.contract import HoldView, State
from signals.opening.floor import Floor, Sentences
from signals.picture import hold_key
from signals.words import EQUIPMENT, Phase, Word

REASON = "opening check"
WITHIN_S = 20.0
LOOK_S = 0.1
ENDS: dict[Phase, Word] = {
    Phase.TEST: Word.GIVE_BACK,
    Phase.ARMED: Word.DISARM,
    Phase.RACING: Word.FINISH,
    Phase.STAGING: Word.CLOSE,
    Phase.FINISHING: Word.CLOSE,
}
"""What leads towards closed from each phase."""


def against_beginning(state: State) -> Sentences:
    """Say what forbids a check from taking the venue: karts out, a session, holds."""
    out = [number for number, kart in state.karts.items() if kart.place not in ("pit", "aside")]
    found = [f"Kart {number} is not in the pit." for number in out]
    if state.phase is not Phase.CLOSED:
        found.append(f"The venue is not closed but {state.phase}.")
    if state.holds:
        found.append("Red or yellow stands.")
    return tuple(found)


async def lift(floor: Floor, mine: Callable[[HoldView], bool]) -> Sentences:
    """Lift the holds that are `mine`, and clear; gives what stays against it."""
    loop = asyncio.get_running_loop()
    give_up_s = loop.time() + WITHIN_S
    against: Sentences = ()
    while floor.state.holds and loop.time() < give_up_s:
        against = await _lift_once(floor, mine)
        await floor.until(lambda: not floor.state.holds, LOOK_S)
    return () if not floor.state.holds else against or ("Red or yellow stands.",)


async def lift_equipments(floor: Floor) -> Sentences:
    """Lift what equipment placed: whoever walks stands there and has looked."""
    return await lift(floor, lambda hold: hold.post == EQUIPMENT)


async def go_home(floor: Floor) -> Sentences:
    """Bring everything home, whoever placed it, and wait until every head shows what it is told."""
    loop = asyncio.get_running_loop()
    give_up_s = loop.time() + WITHIN_S
    against: Sentences = ()
    while not is_home(floor.state) and loop.time() < give_up_s:
        against = await _homewards(floor)
        await floor.until(lambda: is_home(floor.state), LOOK_S)
    return () if is_home(floor.state) else against or _abroad(floor.state)


def is_home(state: State) -> bool:
    """Whether the venue is closed, holds nothing, hears everybody, and shows what is due."""
    heads = all(head.health != "lost" and head.shown is head.aspect for head in state.heads.values())
    return state.phase is Phase.CLOSED and not state.holds and state.monitor == "ok" and heads


def _abroad(state: State) -> Sentences:
    return tuple(state.faults) or (f"The venue is {state.phase} and did not come home.",)


async def _homewards(floor: Floor) -> Sentences:
    state = floor.state
    if state.monitor == "tripped":
        floor.caller.reset_monitor(REASON)
    against = await _lift_once(floor, lambda _: True)
    if state.phase in ENDS:
        against += await floor.call(ENDS[state.phase])
    return against


async def _lift_once(floor: Floor, mine: Callable[[HoldView], bool]) -> Sentences:
    against: Sentences = ()
    for hold in floor.state.holds:
        if hold.what == "recovery":
            against += await floor.call(Word.CLEAR, checked=True, reason=REASON)
        elif mine(hold):
            against += await floor.call(Word.LIFT, hold=hold_key(hold), checked=True, reason=REASON)
    return against
