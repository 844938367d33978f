"""A post's client: its calls and their answers, with or without a screen around it."""

from __future__ import annotations

import asyncio
import logging
import uuid
from collections.abc import Callable
from typing import Any

import msgspec

from signals.mqtt.codec import Malformed, decode, encode
from signals.mqtt.contract import Answer, Call, MonitorReset, State
from signals.mqtt.link import Arrived, Owner
from signals.mqtt.topics import Topics
from signals.part import MakeLink, run_ready

ANSWER_WITHIN_S = 1.0
log = logging.getLogger(__name__)


class Caller:
    """Call from one post, as the user `post-<id>`; `device` tells several devices of a post apart.

    A screen hears more than answers: `also` are its further subscriptions, `owner` is told of every
    message and of the link, after the caller itself.

    Attributes:
        state: the latest `state` heard, None before the first.
        heard: set once a state was heard.

    """

    def __init__(
        self,
        topics: Topics,
        post: str,
        make_link: MakeLink,
        *,
        device: str,
        also: tuple[tuple[str, int], ...] = (),
        owner: Owner | None = None,
    ) -> None:
        self.post = post
        self.state: State | None = None
        self.heard = asyncio.Event()
        self._up = asyncio.Event()
        self._topics = topics
        self._waiting: dict[str, asyncio.Future[Answer]] = {}
        self._answers = topics.name("answer", post)
        self._state = topics.name("state")
        self._owner = owner or Owner()
        self._link = make_link(
            f"post-{post}.{device}",
            subscriptions=((self._answers, 1), (self._state, 1), *also),
            owner=Owner(on_message=self._take, on_up=self._on_up, on_down=self._on_down),
        )

    async def run(self, ready: Callable[[], None] = lambda: None) -> None:
        """Stay connected until cancelled; `ready` once connected."""
        await run_ready(self._link.run(), self._up.wait(), ready)

    @property
    def up(self) -> bool:
        """Whether calls can be sent."""
        return self._up.is_set()

    @property
    def why(self) -> str:
        """Why the broker was not reached, within a sentence: " (Connection refused)"; "" if it was."""
        return f" ({self._link.why})" if self._link.why else ""

    async def connected(self) -> None:
        """Wait until calls can be sent."""
        await self._up.wait()

    async def ask(self, fields: dict[str, Any], *, wait_s: float = ANSWER_WITHIN_S) -> Answer | None:
        """Send a call (`call` and what its word needs, `id` made where missing); None without link or answer.

        The call says which `state` it was made on, unless `boot` and `seq` are given.

        Raises:
            msgspec.ValidationError: a field is of the wrong type, or no field of the contract.

        """
        seen = {"boot": self.state.boot, "seq": self.state.seq} if self.state else {}
        call = msgspec.convert({"id": str(uuid.uuid4()), **seen, **fields}, Call)
        answer: asyncio.Future[Answer] = asyncio.get_running_loop().create_future()
        self._waiting[call.id] = answer
        try:
            if not self._link.publish(self._topics.name("call", self.post), encode(call), qos=1):
                return None
            return await asyncio.wait_for(answer, wait_s)
        except TimeoutError:
            return None
        finally:
            self._waiting.pop(call.id, None)

    def reset_monitor(self, reason: str) -> bool:
        """Ask the monitor to end its trip; it answers on its own topics. False while not connected."""
        reset = encode(MonitorReset(reason=reason))
        return self._link.publish(self._topics.name("monitor", "reset", self.post), reset, qos=1)

    def _take(self, arrived: Arrived) -> None:
        try:
            if arrived.topic == self._state:
                self.state = decode(State, arrived.payload)
                self.heard.set()
            elif arrived.topic == self._answers:
                self._settle(decode(Answer, arrived.payload))
        except Malformed as mistake:
            log.warning("%s: %s", arrived.topic, mistake)
        self._owner.on_message(arrived)

    def _on_up(self) -> None:
        self._up.set()
        self._owner.on_up()

    def _on_down(self, reason: str) -> None:
        self._up.clear()
        self._owner.on_down(reason)

    def _settle(self, answer: Answer) -> None:
        waiting = self._waiting.get(answer.id)
        if waiting is not None and not waiting.done():
            waiting.set_result(answer)
