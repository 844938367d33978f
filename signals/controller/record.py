"""What is journalled, and when.

Permissive: the call is written, then acted on, then what came of it is written and answered.
Restrictive: acted on first, then written, then answered (with `recorded` false if it cannot be).
Equipment: acted on, then written. Every change carries the whole state, from which a restart
begins, except the karts' own motion during a session: after a restart their places count as
unknown anyway, so `place` entries hold only what was seen.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Iterable, Mapping
from typing import Any

import msgspec

from signals.controller.log import say
from signals.core.forms import Kind as RuleKind
from signals.core.machine import Core
from signals.core.state import Decision, Event, State
from signals.core.table import TABLE
from signals.journal import Draft, Entry, Journal, JournalFailed, JournalWriter, Kind
from signals.mqtt.contract import Answer, Call
from signals.words import Phase

WRITTEN_S = 1.0
"""A write that takes longer counts as failing: nobody waits longer for an answer."""

FAULTS = frozenset(rule.word for rule in TABLE.rules if rule.kind is RuleKind.FAULT)
MOVING = frozenset({"place", "moving"})
"""Facts that a restart out of a session forgets anyway."""
MOTIONS = frozenset({"kart-at", "kart-stands", "kart-rolls", "line-crossed"})

Written = asyncio.Future[tuple[Entry, ...]]


class Record:
    """Writes one boot's journal; made on the running loop.

    `on_change` is told when the journal fails (False) and when it works again (True).
    """

    def __init__(
        self,
        journal: Journal,
        core: Core,
        now_ms: Callable[[], int],
        on_change: Callable[[bool], None],
        *,
        boot: str,
        threaded: bool,
    ) -> None:
        self._core = core
        self._now_ms = now_ms
        self._boot = boot
        self._on_change = on_change
        self._works = True
        self._slow = 0
        self._last = (0, 0)
        self._kept: Mapping[str, Any] = {}
        self._writer = JournalWriter(
            journal, threaded=threaded, fault=self._fault, on_change=lambda _works: self._tell()
        )

    @property
    def works(self) -> bool:
        """Whether what is written now is believed to reach the disk in time."""
        return self._works

    def booted(self, state: State, about: Mapping[str, Any]) -> Written:
        """Write that the controller began."""
        return self._submit(state, [(Kind.BOOT, dict(about))])

    def called(self, state: State, post: str, call: Call) -> Written:
        """Write a call that is acted on only once it is written."""
        return self._submit(state, [(Kind.CALL, _call(post, call))])

    def acted(
        self, state: State, event: Event, decision: Decision, answer: Answer, call: Call | None = None
    ) -> Written:
        """Write what came of a call; with `call`, the call itself too (restrictive ones)."""
        bodies = [] if call is None else [(Kind.CALL, _call(event.post, call))]
        bodies += self._changes(event, decision)
        return self._submit(state, [*bodies, (Kind.ANSWER, _answer(event.post, answer))])

    def happened(self, changes: Iterable[tuple[Event, Decision]]) -> None:
        """Write what equipment or time did, after it was acted on, in one go."""
        drafts: list[Draft] = []
        for event, decision in changes:
            fault = [(Kind.FAULT, _what(event))] if event.word in FAULTS else []
            drafts += self._drafts(decision.state, [*fault, *self._changes(event, decision)])
        self._writer.submit(drafts)

    async def written(self, future: Written) -> bool:
        """Wait until a write is on the disk; False if it failed, or takes longer than `WRITTEN_S`."""
        await asyncio.wait((future,), timeout=WRITTEN_S)
        if not future.done():
            self._slow += 1
            future.add_done_callback(self._caught_up)
            self._tell()
            return False
        return future.exception() is None

    async def close(self) -> None:
        """Finish what is under way and let go of the file."""
        await self._writer.close()

    def _changes(self, event: Event, decision: Decision) -> list[tuple[Kind, dict[str, Any]]]:
        if not decision.changed:
            return []
        body, dumped = _what(event), self._core.dump(decision.state)
        if event.word in MOTIONS and self._only_moved(decision, dumped):
            return [(Kind.PLACE, body)]
        self._kept = dumped
        body |= {
            "happened": list(decision.happened),
            "placed": list(decision.placed),
            "ended": list(decision.ended),
            "state": dumped,
        }
        return [(Kind.CHANGE, body)]

    def _only_moved(self, decision: Decision, dumped: Mapping[str, Any]) -> bool:
        """Tell whether nothing changed since the last `change` but where karts are and whether they move."""
        phase = self._core.picture(decision.state).phase
        return phase not in (Phase.CLOSED, Phase.TEST) and _essence(dumped) == _essence(self._kept)

    def _submit(self, state: State, bodies: list[tuple[Kind, dict[str, Any]]]) -> Written:
        return self._writer.submit(self._drafts(state, bodies))

    def _drafts(self, state: State, bodies: list[tuple[Kind, dict[str, Any]]]) -> list[Draft]:
        at = self._now_ms()
        self._last = (at, state.serial)
        return [
            Draft(kind=kind, body=body, at=at, boot=self._boot, seq=state.serial) for kind, body in bodies
        ]

    def _fault(self, failure: JournalFailed) -> Draft:
        """Make the entry of a failure; runs in the writing thread, so it takes the last known time."""
        at, seq = self._last
        body = {"what": "journal-failed", "reason": str(failure)}
        return Draft(kind=Kind.FAULT, body=body, at=at, boot=self._boot, seq=seq)

    def _caught_up(self, _: Written) -> None:
        self._slow -= 1
        self._tell()

    def _tell(self) -> None:
        works = self._writer.works and not self._slow
        if works != self._works:
            self._works = works
            say("journal-works" if works else "journal-fails")
            self._on_change(works)


def _essence(dumped: Mapping[str, Any]) -> dict[str, Any]:
    facts = {name: values for name, values in dumped.get("facts", {}).items() if name not in MOVING}
    return {**dumped, "facts": facts, "serial": 0}


def _what(event: Event) -> dict[str, Any]:
    return {"what": str(event.word), "post": event.post, "fields": _plain(event.fields)}


def _call(post: str, call: Call) -> dict[str, Any]:
    return {"post": post, **msgspec.to_builtins(call)}


def _answer(post: str, answer: Answer) -> dict[str, Any]:
    body: dict[str, Any] = msgspec.to_builtins(answer)
    del body["recorded"], body["seq"]
    return {"post": post, **body}


def _plain(fields: Mapping[str, Any]) -> Any:
    return msgspec.to_builtins(dict(fields))
