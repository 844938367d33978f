"""Calls as events, and the queues they wait in: bounded per post, served in turn.

A stop never waits here. One post's flood fills only its own queue; the others are served between.
"""

from __future__ import annotations

import asyncio
from collections import deque
from collections.abc import Callable, Iterable
from typing import Any

from msgspec import UNSET

from signals.core.forms import Kind
from signals.core.state import Event, Member
from signals.core.table import TABLE
from signals.mqtt.contract import Call, Entry
from signals.words import Word

WAITING_MAX = 16
"""Calls of one post that may wait; a further one is refused at once."""

ANSWERED_MAX, ANSWERED_S = 20, 1.0
"""So many calls of one post are answered within so long; of more, those that change nothing are counted."""

PERMISSIVE = frozenset(Word(rule.word) for rule in TABLE.rules if rule.kind is Kind.PERMISSIVE)
"""Words that are written down before they are acted on."""

_NOT_FIELDS = ("id", "call", "boot", "seq")


def event_of(post: str, call: Call) -> Event:
    """Give the event the core decides on; the topic's post is who calls, whatever `by` claims."""
    given = {name: getattr(call, name) for name in call.__struct_fields__ if name not in _NOT_FIELDS}
    fields = {name: _plain(value) for name, value in given.items() if value is not UNSET}
    seen = None if call.boot is UNSET or call.seq is UNSET else (call.boot, call.seq)
    return Event(call.call, post, fields, call.id, seen)


def _plain(value: Any) -> Any:
    if isinstance(value, Entry):
        return Member(value.number, value.driver, value.class_)
    return tuple(_plain(one) for one in value) if isinstance(value, list) else value


class Pace:
    """How often each post calls: what a flood repeats must fill neither the record nor the broker.

    `now_s` is a monotonic clock.
    """

    def __init__(self, now_s: Callable[[], float]) -> None:
        self._now_s = now_s
        self._since: dict[str, tuple[float, int]] = {}

    def too_many(self, post: str) -> bool:
        """Count one, and tell whether it is more than `ANSWERED_MAX` within `ANSWERED_S`."""
        since_s, count = self._since.get(post, (self._now_s(), 0))
        if self._now_s() - since_s >= ANSWERED_S:
            since_s, count = self._now_s(), 0
        self._since[post] = since_s, count + 1
        return count >= ANSWERED_MAX


class CallQueue:
    """Waiting calls: first come first served within a post, the posts in turn."""

    def __init__(self, posts: Iterable[str]) -> None:
        self._waiting: dict[str, deque[Call]] = {post: deque() for post in posts}
        self._turns: deque[str] = deque()
        self._some = asyncio.Event()

    def put(self, post: str, call: Call) -> bool:
        """Let a call wait; False if the post has `WAITING_MAX` waiting already."""
        waiting = self._waiting[post]
        if len(waiting) >= WAITING_MAX:
            return False
        if not waiting:
            self._turns.append(post)
        waiting.append(call)
        self._some.set()
        return True

    async def take(self) -> tuple[str, Call]:
        """Wait for the next call and give it with its post; lets other work run first."""
        await asyncio.sleep(0)
        await self._some.wait()
        post = self._turns.popleft()
        call = self._waiting[post].popleft()
        if self._waiting[post]:
            self._turns.append(post)
        if not self._turns:
            self._some.clear()
        return post, call
