"""The venue as a walk meets it: one post that calls, and ears for all that equipment reports.

A page brings the post's own `Caller` and may share one `Observer` between posts; `floor_of` makes both.
"""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from typing import Any

from signals.caller import Caller
from signals.errors import Unusable
from signals.mqtt.contract import Answer, State
from signals.mqtt.topics import Topics
from signals.part import MakeLink
from signals.sequence.observer import ALL, Observer
from signals.venue.model import Venue
from signals.words import Phase, Word

ANSWER_S = 5.0
"""Nobody drives during a walk: a late answer is better than none."""
HEARD_WITHIN_S = 10.0
TURN_S = 2.0
"""How long a change that was answered may take to be heard in `state`."""

Sentences = tuple[str, ...]


class Floor:
    """What a walk does to a venue and hears from it; calls are refused by value, in sentences."""

    def __init__(self, venue: Venue, caller: Caller, ears: Observer) -> None:
        self.venue = venue
        self.caller = caller
        self.ears = ears

    @property
    def state(self) -> State:
        """The picture the next call is made on. Raises Unusable before the first."""
        if self.caller.state is None:
            raise Unusable("no controller is heard; is `kerblight run` up?")
        return self.caller.state

    async def call(self, word: Word, **fields: Any) -> Sentences:
        """Call, and give the sentences against it; none means accepted.

        Raises:
            Unusable: no answer came.

        """
        answer: Answer | None = await self.caller.ask({"call": word, **fields}, wait_s=ANSWER_S)
        if answer is None:
            raise Unusable(f"{word}: no answer; is `kerblight run` up, and the post's password right?")
        return () if answer.accepted else tuple(refusal.sentence for refusal in answer.refusals)

    async def into(self, phase: Phase) -> Sentences:
        """Have the lamps lent (`test`) or given back (`closed`); gives what is against it."""
        if self.state.phase is phase:
            return ()
        if phase is Phase.CLOSED and self.state.phase is not Phase.TEST:
            return (f"The venue is not closed but {self.state.phase}.",)
        if against := await self.call(Word.LEND if phase is Phase.TEST else Word.GIVE_BACK):
            return against
        turned = await self.until(lambda: self.state.phase is phase, TURN_S)
        return () if turned else (f"The venue did not turn to {phase}.",)

    async def until(self, holds: Callable[[], bool], within_s: float) -> bool:
        """Look at every message until something holds, or the time is over; tells which."""
        loop = asyncio.get_running_loop()
        end_s, news = loop.time() + within_s, asyncio.Event()
        ignore = self.ears.listen(news.set)
        try:
            while not holds():
                news.clear()
                async with asyncio.timeout_at(end_s):
                    await news.wait()
        except TimeoutError:
            return holds()
        finally:
            ignore()
        return True


@asynccontextmanager
async def floor_of(
    venue: Venue, make_link: MakeLink, *, post: str, device: str = "opening"
) -> AsyncIterator[Floor]:
    """Connect a post and ears for as long as the context lasts.

    Raises:
        Unusable: no broker, or no controller, is heard.

    """
    caller = Caller(Topics.of(venue.id, simulated=venue.simulated), post, make_link, device=device)
    ears = Observer(venue, make_link, client=_ears(venue, post, device), filters=ALL)
    tasks = [asyncio.create_task(caller.run()), asyncio.create_task(ears.run())]
    try:
        await _heard(caller, ears, tasks)
        yield Floor(venue, caller, ears)
    finally:
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)


def _ears(venue: Venue, post: str, device: str) -> str:
    """Name whoever listens: simulated equipment is asked for events by an instructor only."""
    return f"instructor.{device}" if venue.simulated else f"post-{post}.{device}-ears"


async def _heard(caller: Caller, ears: Observer, tasks: list[asyncio.Task[None]]) -> None:
    """Wait until both hear the controller; a client that fails says why."""
    hearing = asyncio.create_task(_both(caller, ears))
    try:
        await asyncio.wait((hearing, *tasks), timeout=HEARD_WITHIN_S, return_when=asyncio.FIRST_COMPLETED)
        for task in tasks:
            if task.done():
                task.result()
        if not hearing.done():
            raise Unusable(
                f"no controller was heard{caller.why}; is `kerblight run` up, and --data its folder?"
            )
    finally:
        hearing.cancel()
        await asyncio.gather(hearing, return_exceptions=True)


async def _both(caller: Caller, ears: Observer) -> None:
    await caller.connected()
    await caller.heard.wait()
    await ears.complete()
