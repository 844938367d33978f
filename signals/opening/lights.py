"""Lamps lit in a test, for as long as somebody looks: told, driven, proven, and how soon.

The controller ends what is shown after a while by itself; so it is told again until it is let go. A
sensor may lag behind its lamp and is believed until then: its proof counts only after that time.
"""

from __future__ import annotations

import asyncio
import contextlib
from typing import Any

from msgspec import UNSET, Struct, UnsetType

from signals.errors import Unusable
from signals.flash import EDGES_NEEDED, QUIET_MS
from signals.mqtt.contract import Shown
from signals.opening.floor import Floor, Sentences
from signals.outputs.base import POLL_MS
from signals.outputs.lamps import PROVE_MS
from signals.venue.model import Head
from signals.words import Aspect, Word

TAKES_S = 1.0
"""Beyond the venue's settling time: the network, and the device's refresh."""
POLLS_S = 3 * POLL_MS / 1000
"""A sensor is read a few times more before it is believed."""
AGAIN_SHARE = 3
"""What is shown is told again after this part of the time it lasts."""
MEASURED_S = (EDGES_NEEDED + 1) * QUIET_MS / 1000
"""Within this a sensor has seen how fast anything flashes, or that it does not; three flashes mostly do."""


class Lit(Struct, frozen=True):
    """What a head made of being told: None where it says nothing; `ms` from the call to its report."""

    wanted: tuple[str, ...]
    shown: Shown | None
    ms: int | None

    @property
    def driven(self) -> tuple[str, ...]:
        """The lamps its output stage drives."""
        return tuple(self.shown.driven) if self.shown else ()

    @property
    def proven(self) -> tuple[str, ...] | None:
        """The lamps its sensors see; None where not every lamp has one."""
        return None if self.shown is None or self.shown.proven is None else tuple(self.shown.proven)


class Lights:
    """Shows one thing at a time on one head; telling the next ends the one before, and darkens its head."""

    def __init__(self, floor: Floor) -> None:
        self._floor = floor
        self._renewing: asyncio.Task[None] | None = None
        self._last: str | None = None

    async def show(
        self, head: Head, aspect: Aspect, *, lamp: str | None = None, number: int | None = None
    ) -> Lit | Sentences:
        """Have a head show an aspect, or one lamp under it, until let go; gives what came, or the refusal."""
        await self.let_go()
        if self._last not in (None, head.id):
            await self._floor.call(Word.SHOW, head=self._last, aspect=Aspect.DARK)
        self._last = head.id
        fields: dict[str, Any] = {"head": head.id, "aspect": aspect}
        fields |= {"lamp": lamp} if lamp else {}
        fields |= {"kart": number} if number else {}
        wanted = (lamp,) if lamp else head.aspects[aspect]
        began_s = asyncio.get_running_loop().time()
        if against := await self._floor.call(Word.SHOW, **fields):
            return against
        self._renewing = asyncio.create_task(self._renew(fields))
        return await self._settled(head, aspect, wanted, began_s)

    async def flash_hz(self, head: Head, lit: Lit) -> float | UnsetType | None:
        """Wait for what the sensors of a head that was lit measure of its flash.

        UNSET where none does, None where it never came or came to an end.
        """
        ears = self._floor.ears

        def hz() -> float | UnsetType | None:
            shown = ears.shown(head.id)
            return UNSET if shown is None else shown.flash_hz

        measures = hz() is not UNSET or (lit.shown is not None and lit.shown.flash_hz is not UNSET)
        await self._floor.until(lambda: hz() is not None, MEASURED_S)
        return None if measures and hz() is UNSET else hz()

    async def let_go(self) -> None:
        """Tell it no more: the controller lets the head go back by itself."""
        task, self._renewing = self._renewing, None
        if task is not None:
            task.cancel()
            with contextlib.suppress(asyncio.CancelledError, Unusable):
                await task

    async def _renew(self, fields: dict[str, Any]) -> None:
        while True:
            await asyncio.sleep(self._floor.venue.timing.show / 1000 / AGAIN_SHARE)
            if await self._floor.call(Word.SHOW, **fields):
                return

    async def _settled(self, head: Head, aspect: Aspect, wanted: tuple[str, ...], began_s: float) -> Lit:
        """Wait until the head drives what was told and its sensors had their time; the last word counts."""
        floor, ears = self._floor, self._floor.ears

        def follows() -> bool:
            shown = ears.shown(head.id)
            return shown is not None and set(shown.driven) == set(wanted)

        within_s = floor.venue.timing.settle / 1000 + TAKES_S
        ms: int | None = None
        if await floor.until(follows, within_s):
            since_s = ears.shown_since_s(head.id) or began_s
            ms = max(0, round(1000 * (since_s - began_s)))
            if (shown := ears.shown(head.id)) is not None and shown.proven is not None:
                await asyncio.sleep(self.believed_s(head, aspect))
        return Lit(tuple(wanted), ears.shown(head.id), ms)

    def believed_s(self, head: Head, aspect: Aspect) -> float:
        """Give how long lamps must be driven until their proof counts: sensor, flash, report, polls."""
        venue = self._floor.venue
        lags = [wire.prove_ms for wire in venue.wires if wire.place == head.id and wire.prove_ms]
        flash_ms = venue.choices.flash_period_ms if aspect.endswith("-flash") else 0
        report_ms = venue.timing.lease_head / 2
        return (max(lags, default=PROVE_MS) + flash_ms + report_ms) / 1000 + POLLS_S
