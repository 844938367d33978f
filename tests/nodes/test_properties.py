"""RULES' node properties over messages that are lost, late, doubled and out of order.

Two honest controllers (one can restart, both can be alive at once) and one node. Everything sent
stays in flight: it may arrive never, later, or again. The oracle keeps its own books and knows
nothing of how the node decides. Each property is also run with its rule switched off, and must
then fail: a check that cannot fail proves nothing.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from signals.mqtt.contract import AspectCommand, Beat, CapsCommand, LimitCommand, Message
from signals.nodes.head import Rules
from signals.nodes.lease import Addressed, InEpoch, Lease
from signals.nodes.limiter import LimiterLogic
from signals.words import Aspect

LEASE_MS = 500
OPS = [
    *["beat"] * 5,
    *["beat-held"] * 2,
    *["order"] * 4,
    *["order-held"] * 2,
    *["again"] * 4,
    *["wait"] * 4,
    "long-wait",
    "stop",
    "lift",
    "other",
    "restart",
    "reboot",
]
STEPS = st.binary(min_size=16, max_size=90)
"""Two bytes a step: what, and which."""
ORDERS = [(Aspect.GREEN, 45.0), (Aspect.GREEN, 28.0), (Aspect.YELLOW_FLASH, 15.0), (Aspect.DARK, 0.0)]


@dataclass
class Controller:
    """What an honest controller says: the epoch rises at every stop and every last lift."""

    boot: str
    epoch: int = 1
    stop: bool = False
    seqs: Any = field(default_factory=lambda: itertools.count(1))


@dataclass(frozen=True)
class Sent:
    """A message in flight, and when it was sent (a number that only rises)."""

    moment: int
    levels: tuple[str, ...]
    message: Any


class Story:
    """Plays steps on a bench and keeps the books for the oracle."""

    def __init__(self, bench: Any) -> None:
        self.bench = bench
        self.moments = itertools.count(1)
        self.boots = (f"boot{number}" for number in itertools.count())
        self.controllers = [Controller(next(self.boots)), Controller(next(self.boots))]
        self.speaking = 0
        self.flying: list[Sent] = []
        self.arrived: list[Sent] = []
        self.stops: list[int] = []
        self.heard: list[tuple[str, float]] = []
        self.newest: dict[tuple[Any, ...], int] = {}
        self.renewed_ms: float | None = None
        self.lapsed = 0
        self.limit = 0.0

    @property
    def now(self) -> Controller:
        return self.controllers[self.speaking]

    def play(self, op: str, pick: int) -> Sent | None:
        """Do one step; gives the message that arrived, if one did."""
        match op:
            case "beat" | "beat-held":
                return self._fly(self._beat(), arrives=op == "beat")
            case "order" | "order-held":
                return self._fly(self._order(pick), arrives=op == "order")
            case "again" if self.flying:
                return self._arrive(self.flying[-1 - pick % len(self.flying)])
            case "wait" | "long-wait":
                self._wait((50 if op == "wait" else LEASE_MS) * (1 + pick % 4))
            case "stop" | "lift":
                return self._call(stop=op == "stop")
            case "other":
                self.speaking = 1 - self.speaking
            case "restart":
                self.controllers[self.speaking] = Controller(next(self.boots))
            case "reboot":
                self._reboot()
        return None

    def _reboot(self) -> None:
        """Boot the node anew: it remembers nothing, so the books begin anew too."""
        self.bench.device.boot_up(self.bench.now_ms)
        self.lapsed, self.renewed_ms, self.limit = next(self.moments), None, self.bench.limit
        for book in (self.arrived, self.heard, self.newest):
            book.clear()

    def _call(self, *, stop: bool) -> Sent | None:
        if self.now.stop == stop:
            return None
        self.now.stop = stop
        self.now.epoch += 1
        if stop:
            self.stops.append(next(self.moments))
        return self._fly(self._beat(), arrives=True)

    def _beat(self) -> tuple[tuple[str, ...], Message]:
        at = self.now
        return ("beat",), Beat(
            boot=at.boot, seq=next(at.seqs), epoch=at.epoch, stop=at.stop, test=False, at=0
        )

    def _order(self, pick: int) -> tuple[tuple[str, ...], Message]:
        at, (aspect, limit_kmh) = self.now, ORDERS[pick % len(ORDERS)]
        if at.stop:
            aspect, limit_kmh = Aspect.RED, 0.0
        common: dict[str, Any] = {"boot": at.boot, "seq": next(at.seqs), "inc": self.bench.inc}
        if pick == 11:
            rest = {"fall_mps2": 2, "rise_mps2": 1, "reverse_kmh": 4, "boost_kmh": 5}
            return ("kart", "7", "caps"), CapsCommand(**common, **rest, stop_kmh=0, fail_kmh=15, creep_kmh=5)
        if pick % 3 == 2:
            return ("kart", "7", "limit"), LimitCommand(
                **common, epoch=at.epoch, limit_kmh=limit_kmh, boosts=0, because="class"
            )
        return ("head", "h1", "aspect"), AspectCommand(
            **common, epoch=at.epoch, aspect=aspect, flash=None, number=None, lamps=None
        )

    def _fly(self, said: tuple[tuple[str, ...], Message], *, arrives: bool) -> Sent | None:
        sent = Sent(next(self.moments), *said)
        self.flying.append(sent)
        return self._arrive(sent) if arrives else None

    def _arrive(self, sent: Sent) -> Sent:
        key, seq = (sent.levels, sent.message.boot), sent.message.seq
        self.bench.send(*sent.levels, payload=sent.message)
        if sent.levels == ("beat",):
            self._hear(sent.message.boot, newer=seq > self.newest.get(key, 0))
        self.newest[key] = max(seq, self.newest.get(key, 0))
        self.arrived.append(sent)
        return sent

    def _hear(self, boot: str, *, newer: bool) -> None:
        self.heard.append((boot, self.bench.now_ms))
        if len(self.boots_heard()) > 1:
            self.lapsed = next(self.moments) if self.renewed_ms is not None else self.lapsed
            self.renewed_ms = None
        elif newer:
            self.renewed_ms = self.bench.now_ms

    def boots_heard(self) -> set[str]:
        """The boots heard within the last lease."""
        return {boot for boot, at_ms in self.heard if at_ms > self.bench.now_ms - LEASE_MS}

    def _wait(self, ms: int) -> None:
        if self.renewed_ms is not None and self.bench.now_ms < self.ends_ms <= self.bench.now_ms + ms:
            left = self.ends_ms - self.bench.now_ms
            self.bench.to(self.ends_ms)
            self.lapsed, ms = next(self.moments), round(ms - left)
            fails_at_the_lease(self)
            self.renewed_ms = None
        self.bench.to(self.bench.now_ms + ms)

    @property
    def ends_ms(self) -> float:
        return (self.renewed_ms or 0.0) + LEASE_MS

    def greens(self) -> list[Sent]:
        return [sent for sent in self.arrived if getattr(sent.message, "aspect", None) is Aspect.GREEN]


Check = Callable[[Story, Sent | None], None]


def fails_at_the_lease(story: Story, _: Sent | None = None) -> None:
    """N3. Lease past => fail aspect, at the very lease."""
    if story.renewed_ms is None or story.bench.now_ms >= story.ends_ms:
        assert story.bench.shows() in (Aspect.RED, Aspect.YELLOW_FLASH)


def no_green_from_before_a_stop(story: Story, _: Sent | None) -> None:
    """N1. No green from before a stop once any beat sent after it was heard."""
    if story.bench.shows() is not Aspect.GREEN:
        return
    beats = [sent.moment for sent in story.arrived if sent.levels == ("beat",)]
    over = max((stop for stop in story.stops if any(beat > stop for beat in beats)), default=0)
    assert any(green.moment > over for green in story.greens())


def fails_with_two_boots(story: Story, _: Sent | None) -> None:
    """N2. Two boots in a lease => fail aspect."""
    if len(story.boots_heard()) > 1:
        assert story.bench.shows() in (Aspect.RED, Aspect.YELLOW_FLASH)


def green_after_a_lapse_needs_a_later_order(story: Story, _: Sent | None) -> None:
    """N4. After a lapse or reboot green needs an order that was addressed later."""
    if story.bench.shows() is Aspect.GREEN:
        assert any(green.moment > story.lapsed for green in story.greens())


def stops_at_once(story: Story, arrived: Sent | None) -> None:
    """The stop flag of a new beat is obeyed at once from any boot."""
    if arrived and arrived.levels == ("beat",) and arrived.message.stop and is_newest(story, arrived):
        assert story.bench.shows() is Aspect.RED
        assert story.bench.limit == 0


def limit_rises_only_by_a_fresh_order(story: Story, arrived: Sent | None) -> None:
    """N5. A limit never rises on loss, lapse, duplicate, reordering, delay."""
    before, story.limit = story.limit, story.bench.limit
    if story.limit <= before:
        return
    assert arrived is not None, "time alone raised it"
    assert story.arrived.count(arrived) == 1, "a doubled message raised it"
    assert is_newest(story, arrived), "a late message raised it"
    assert any(
        sent.levels[-1] == "limit" and sent.message.limit_kmh == story.limit and is_newest(story, sent)
        for sent in story.arrived
        if sent.message.boot == arrived.message.boot and sent.moment > story.lapsed
    ), "no order said so"


def is_newest(story: Story, sent: Sent) -> bool:
    return bool(sent.message.seq == story.newest[sent.levels, sent.message.boot])


CHECKS: list[Check] = [
    no_green_from_before_a_stop,
    fails_with_two_boots,
    fails_at_the_lease,
    green_after_a_lapse_needs_a_later_order,
    stops_at_once,
    limit_rises_only_by_a_fresh_order,
]


def run(make_bench: Callable[..., Any], steps: bytes, checks: list[Check]) -> None:
    story = Story(make_bench(node="pair"))
    for op, pick in zip(steps[::2], steps[1::2], strict=False):
        arrived = story.play(OPS[op % len(OPS)], pick % 12)
        for check in checks:
            check(story, arrived)


QUIET = settings(deadline=None, database=None, derandomize=True, suppress_health_check=list(HealthCheck))


@settings(QUIET, max_examples=400)
@given(steps=STEPS)
def test_the_node_properties_hold(make_bench: Callable[..., Any], steps: bytes) -> None:
    run(make_bench, steps, CHECKS)


def never(*_: Any) -> bool:
    return False


def always(*_: Any) -> bool:
    return True


SWITCHED_OFF = {
    "equal epoch": (InEpoch, "_same_epoch", always, no_green_from_before_a_stop),
    "late beats dropped": (Lease, "_is_newer", always, no_green_from_before_a_stop),
    "two boots": (Lease, "_others", lambda *_: {}, fails_with_two_boots),
    "the lease": (Lease, "_is_over", never, fails_at_the_lease),
    "the lease to the ms": (Lease, "_is_over", lambda _, ends, now: now >= ends + 1, fails_at_the_lease),
    "a new incarnation": (
        Lease,
        "_next_incarnation",
        lambda lease: lease.inc,
        green_after_a_lapse_needs_a_later_order,
    ),
    "own incarnation": (Addressed, "_is_mine", always, green_after_a_lapse_needs_a_later_order),
    "the stop flag": (Rules, "_stop_heard", never, stops_at_once),
    "late orders dropped": (Addressed, "_is_newer", always, limit_rises_only_by_a_fresh_order),
    "the lower of two": (LimiterLogic, "_fallen", lambda _, cap: cap, limit_rises_only_by_a_fresh_order),
}


@pytest.mark.parametrize("rule", SWITCHED_OFF)
def test_without_its_rule_a_property_fails(
    rule: str, make_bench: Callable[..., Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    owner, method, off, check = SWITCHED_OFF[rule]
    monkeypatch.setattr(owner, method, off)

    @settings(QUIET, max_examples=3000, phases=[Phase.generate])
    @given(steps=STEPS)
    def broken(steps: bytes) -> None:
        run(make_bench, steps, [check])

    with pytest.raises(AssertionError):
        broken()
