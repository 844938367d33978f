"""The node protocol explored whole, and each rule of the nodes taken away: the exploration finds it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import msgspec
import pytest

from signals.mqtt.codec import decode_lenient
from signals.mqtt.contract import Beat
from signals.nodes.device import Device
from signals.nodes.head import Rules
from signals.nodes.lease import Addressed, InEpoch, Lease
from signals.nodes.limiter import LimiterLogic
from signals.proof.protocol import NIGHT, PROPERTIES, Bounds, Report, explore_protocol
from signals.venue import load
from signals.venue.model import Venue

VENUE = Path(__file__).parents[2] / "configs" / "harbour-loop.toml"


@pytest.fixture(scope="module")
def venue() -> Venue:
    return load(VENUE)


def told(report: Report) -> str:
    nodes = "\n".join(f"{node}" for node in report.nodes)
    ways = "\n".join(
        f"{breach.name} {breach.subject}:\n  " + "\n  ".join(breach.way) for breach in report.breaches
    )
    return f"{nodes}\n{ways}"


STATES = [("head h1", 2, 1057, 8), ("kart 1", 1, 1179, 10)]
"""Node, boots alive at once, states, steps to the farthest; a changed rule shows here: it must be meant."""


@pytest.mark.gate
def test_every_node_rule_holds_in_every_state(venue: Venue) -> None:
    report = explore_protocol(venue)
    print(told(report))
    assert report.held, told(report)
    assert [(node.subject, node.boots, node.states, node.depth) for node in report.nodes] == STATES
    assert msgspec.json.decode(msgspec.json.encode(report))["properties"] == PROPERTIES


def test_every_rule_of_a_head_holds_under_one_boot(venue: Venue) -> None:
    report = explore_protocol(venue, Bounds(head_boots=1), subjects=("h1",))
    print(told(report))
    assert report.held, told(report)


@pytest.mark.night
def test_every_node_rule_holds_with_finer_time_two_controllers_and_every_fail_aspect(venue: Venue) -> None:
    report = explore_protocol(venue, NIGHT)
    print(told(report))
    assert report.held, told(report)


def test_ticks_that_do_not_add_up_to_a_lease_are_refused(venue: Venue) -> None:
    with pytest.raises(ValueError, match="3 ticks do not make a lease of 500 ms"):
        explore_protocol(venue, Bounds(head_ticks=3))


def never(*_: Any) -> bool:
    return False


def always(*_: Any) -> bool:
    return True


def obeys_kept_beats(device: Any, arrived: Any, now_ms: float) -> None:
    device.lease.hear(decode_lenient(Beat, arrived.payload), now_ms)


HEAR = Lease.hear


def forgets_silent_boots(lease: Any, beat: Beat, now_ms: float) -> None:
    HEAR(lease, beat, now_ms)
    since_ms = now_ms - lease.lease_ms
    lease._keep(heard=tuple(heard for heard in lease.memory.heard if heard.at_ms > since_ms))


MUTANTS: dict[str, tuple[Any, str, Callable[..., Any], str | int, str]] = {
    "an old epoch is obeyed": (InEpoch, "_same_epoch", always, "h1", "N1"),
    "a late beat counts": (Lease, "_is_newer", always, "h1", "N1"),
    "a second boot is ignored": (Lease, "_others", lambda *_: (), "h1", "N2"),
    "the lease does not end": (Lease, "_is_over", never, "h1", "N3"),
    "a kept beat is obeyed as live": (Device, "_hear_beat", obeys_kept_beats, "h1", "N3"),
    "a boot silent for a lease is forgotten": (Lease, "hear", forgets_silent_boots, "h1", "N3"),
    "the incarnation is kept": (Lease, "_next_incarnation", lambda lease: lease.inc, "h1", "N4"),
    "any incarnation's order is obeyed": (Addressed, "_is_mine", always, "h1", "N4"),
    "a late order counts": (Addressed, "_is_newer", always, "h1", "N5"),
    "a limit rises on a lapse": (LimiterLogic, "_fallen", lambda _, cap_kmh: cap_kmh, 1, "N5"),
    "a kart's late order counts": (Addressed, "_is_newer", always, 1, "N5"),
    "a kart's lease does not end": (Lease, "_is_over", never, 1, "N3"),
    "a kart obeys an old epoch": (InEpoch, "_same_epoch", always, 1, "N1"),
    "the stop flag is not heard": (Rules, "_stop_heard", never, "h1", "stop"),
}


LONG = {"the incarnation is kept", "a boot silent for a lease is forgotten", "a late beat counts"}


@pytest.mark.parametrize(
    "mutant", [pytest.param(name, marks=[pytest.mark.gate] if name in LONG else []) for name in MUTANTS]
)
def test_a_node_without_a_rule_is_found_out(
    mutant: str, venue: Venue, monkeypatch: pytest.MonkeyPatch
) -> None:
    owner, method, instead, subject, name = MUTANTS[mutant]
    monkeypatch.setattr(owner, method, instead)
    report = explore_protocol(venue, subjects=(subject,), seek=name)
    print(told(report))
    assert name in {breach.name for breach in report.breaches}
    assert all(breach.way for breach in report.breaches)


def test_every_property_is_broken_by_some_mutant() -> None:
    assert {name for *_, name in MUTANTS.values()} == set(PROPERTIES)
