"""What `[start]` asks for, brought about by the calls a person would make."""

from __future__ import annotations

import asyncio
from collections.abc import Iterator
from typing import Any

import msgspec

from signals.caller import Caller
from signals.sequence.form import StartTable
from signals.venue.model import Venue
from signals.words import Phase, Verdict, Word

AGAIN_S = 0.25
WITHIN_S = 10.0
VALID_S = 12 * 3600
PHASES = ("closed", "staging", "ready", "armed", "racing")


async def bring_about(start: StartTable, venue: Venue, caller: Caller) -> str:
    """Call what leads to `start`, each until accepted; gives the refusal that stands, or nothing."""
    if wrong := _not_as_begun(caller):
        return wrong
    loop = asyncio.get_running_loop()
    gap_over = loop.time()
    for call in _calls(start, venue):
        lets_out = call["call"] == Word.LET_OUT
        if lets_out:
            await asyncio.sleep(gap_over - loop.time())
        refused = await _insist(caller, call)
        if refused:
            return f"{call['call']}: {refused}"
        if lets_out:
            gap_over = loop.time() + venue.timing.gap / 1000
    return ""


def _not_as_begun(caller: Caller) -> str:
    """Tell what keeps a sequence from beginning: it begins on a venue that is closed and holds nothing."""
    state = caller.state
    if state is None:
        return "no state was heard"
    held = len(state.holds)
    return "" if state.phase is Phase.CLOSED and not held else f"the venue is {state.phase} with {held} holds"


def _calls(start: StartTable, venue: Venue) -> Iterator[dict[str, Any]]:
    far = PHASES.index(start.phase)
    if start.opening_check != "simulated":
        yield {"call": Word.VERDICT, "verdict": Verdict(start.opening_check), "checked": True}
    if start.group:
        yield {"call": Word.PREPARE, "entries": msgspec.to_builtins(start.group)}
    if far >= PHASES.index("staging"):
        yield {"call": Word.STAGE}
    if far >= PHASES.index("ready"):
        yield from ({"call": Word.CONFIRM, "item": item.id} for item in venue.checklist)
    if far >= PHASES.index("armed"):
        yield {"call": Word.ARM}
    if far >= PHASES.index("racing"):
        yield {"call": Word.START}
    yield from ({"call": Word.LET_OUT, "kart": kart} for kart in start.out)


async def _insist(caller: Caller, call: dict[str, Any]) -> str:
    """Call again while karts still take their limits or the gap still runs."""
    loop = asyncio.get_running_loop()
    give_up = loop.time() + WITHIN_S
    while True:
        answer = await caller.ask(_valid(call, caller))
        if answer is not None and answer.accepted:
            return ""
        refused = "no answer" if answer is None else "; ".join(one.sentence for one in answer.refusals)
        if loop.time() >= give_up:
            return refused
        await asyncio.sleep(AGAIN_S)


def _valid(call: dict[str, Any], caller: Caller) -> dict[str, Any]:
    if call["call"] != Word.VERDICT or caller.state is None:
        return call
    return {**call, "until": caller.state.at + VALID_S * 1000}
