"""The pure core beside the running service: every entry of the journal decided once more."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

import msgspec

from signals.controller.calls import event_of
from signals.core.machine import Core
from signals.core.state import TICK, Decision, Event, State
from signals.journal import Entry, Kind
from signals.mqtt.contract import Call


class Shadow:
    """Follows a journal: what happened is read, what was decided is decided anew and must be the same."""

    def __init__(self, core: Core) -> None:
        self.core = core
        self.state: State | None = None
        self.states: list[State] = []
        self.decisions = 0
        self.refusals = 0
        self._kept: Mapping[str, Any] | None = None
        self._asked: dict[tuple[str, str], list[Call]] = {}
        self._acted: dict[int, Decision] = {}

    def follow(self, entries: Iterable[Entry]) -> None:
        for entry in entries:
            match entry.kind:
                case Kind.BOOT:
                    self._boot(entry)
                case Kind.CALL:
                    call = msgspec.convert({k: v for k, v in entry.body.items() if k != "post"}, Call)
                    self._asked.setdefault((entry.body["post"], call.id), []).append(call)
                case Kind.CHANGE | Kind.PLACE:
                    self._changed(entry)
                case Kind.ANSWER:
                    self._answered(entry)

    def _boot(self, entry: Entry) -> None:
        kept = self._kept
        self._asked.clear()
        state = self.core.begin(entry.boot) if kept is None else self.core.load(kept, entry.boot)
        self._take(state)

    def _changed(self, entry: Entry) -> None:
        body = entry.body
        if self.state is None:  # the sampled state that the service begins from
            self._kept = body["state"]
            return
        call = self._call_of(body)
        event = event_of(body["post"], call) if call else _event(body)
        decision = self._decide(event, entry.at)
        assert decision.accepted, (body["what"], decision.refusals)
        assert decision.changed, body["what"]
        assert decision.state.serial == entry.seq, body["what"]
        if call:
            self._acted[id(call)] = decision
        if entry.kind is Kind.CHANGE:
            self._kept = body["state"]
            assert self.core.dump(decision.state) == body["state"], body["what"]
            told = (decision.happened, decision.placed, decision.ended)
            assert [list(one) for one in told] == [body["happened"], body["placed"], body["ended"]]

    def _answered(self, entry: Entry) -> None:
        body = entry.body
        call = self._asked[body["post"], body["id"]].pop(0)
        decision = self._acted.pop(id(call), None)
        if decision is None:
            decision = self._decide(event_of(body["post"], call), entry.at)
            assert not decision.changed or not decision.accepted, call
        assert decision.accepted == body["accepted"], (call, decision.refusals, body)
        rules = [(one.rule, one.sentence) for one in decision.refusals]
        assert rules == [(one["rule"], one["sentence"]) for one in body["refusals"]], call
        self.refusals += not decision.accepted

    def _call_of(self, body: Mapping[str, Any]) -> Call | None:
        """Find the call that a change came of: the oldest of its word and fields without an answer."""
        for (post, _), calls in self._asked.items():
            for call in calls:
                if post == body["post"] and call.call == body["what"] and id(call) not in self._acted:
                    fields = msgspec.json.decode(msgspec.json.encode(dict(event_of(post, call).fields)))
                    if fields == body["fields"]:
                        return call
        return None

    def _decide(self, event: Event, at: int) -> Decision:
        assert self.state is not None
        decision = self.core.step(self.state, event, at)
        self.decisions += 1
        self._take(decision.state)
        return decision

    def _take(self, state: State) -> None:
        self.state = state
        self.states.append(state)


def _event(body: Mapping[str, Any]) -> Event:
    return TICK if body["what"] == "tick" else Event(body["what"], body["post"], body["fields"])
