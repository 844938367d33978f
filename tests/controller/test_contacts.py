"""Wired inputs, the conflict monitor, and the controller's own way to the broker."""

from __future__ import annotations

import pytest

from signals.controller.broker import BrokerWatch
from signals.controller.contacts import Inputs, MonitorWatch
from signals.controller.nodes import Nodes
from signals.mqtt.contract import MonitorStatus, Trip
from signals.words import InputState
from tests.controller.made import harbour, picture, report, status, words

NORMAL, ACTIVE, FAULT = InputState.NORMAL, InputState.ACTIVE, InputState.FAULT


@pytest.fixture
def inputs() -> Inputs:
    nodes = Nodes(harbour())
    nodes.address("c1", status("c1", "inc1"), 0.0)
    return Inputs(harbour(), nodes)


def test_an_active_input_is_believed_at_once(inputs: Inputs) -> None:
    assert words(inputs.hear("alarm", report(ACTIVE), None)) == ["input-active alarm"]
    assert words(inputs.hear("alarm", report(ACTIVE), 0.0)) == []


def test_an_input_is_normal_again_only_when_it_is_heard(inputs: Inputs) -> None:
    list(inputs.hear("alarm", report(ACTIVE), 0.0))
    assert words(inputs.hear("alarm", report(NORMAL), None)) == []
    assert words(inputs.sweep(0.1, settling=True)) == ["input-normal alarm"]


def test_a_silent_input_is_a_fault_and_comes_back(inputs: Inputs) -> None:
    list(inputs.hear("alarm", report(NORMAL), 0.0))
    list(inputs.sweep(0.1, settling=True))
    assert words(inputs.sweep(0.6, settling=True)) == ["input-fault alarm"]
    list(inputs.hear("alarm", report(NORMAL), 0.7))
    assert words(inputs.sweep(0.8, settling=True)) == ["input-normal alarm"]


def test_an_input_never_heard_is_a_fault_once_the_start_is_over(inputs: Inputs) -> None:
    assert words(inputs.sweep(0.1, settling=True)) == []
    assert "input-fault gate" in words(inputs.sweep(0.1, settling=False))


def test_an_input_in_fault_says_so(inputs: Inputs) -> None:
    assert words(inputs.hear("gate", report(FAULT), 0.0)) == ["input-fault gate"]


def trip(*, tripped: bool) -> Trip:
    return Trip(tripped=tripped, what="head", where="h3", due="red", shown="green", at=0)


def test_a_monitor_never_heard_is_lost_once_the_start_is_over() -> None:
    watch = MonitorWatch()
    assert words(watch.sweep(picture(), settling=True)) == []
    assert words(watch.sweep(picture(), settling=False)) == ["monitor-lost"]
    watch.hear(MonitorStatus(status="ok"))
    assert words(watch.sweep(picture(monitor="lost"), settling=False)) == ["monitor-back"]


def test_a_monitor_that_says_it_is_lost_is_lost_at_once() -> None:
    watch = MonitorWatch()
    watch.hear(MonitorStatus(status="ok"))
    assert words(watch.sweep(picture(), settling=False)) == []
    watch.hear(MonitorStatus(status="lost"))
    assert words(watch.sweep(picture(), settling=True)) == ["monitor-lost"]


def test_a_trip_carries_what_was_seen_and_lasts_until_status_and_trip_agree() -> None:
    watch = MonitorWatch()
    watch.hear(MonitorStatus(status="ok"))
    watch.hear(trip(tripped=True))
    (event,) = watch.sweep(picture(), settling=False)
    assert (event.word, event.fields["reason"]) == (
        "monitor-tripped",
        "head h3 showed green where red was due",
    )
    watch.hear(MonitorStatus(status="tripped"))
    watch.hear(trip(tripped=False))
    assert words(watch.sweep(picture(monitor="tripped"), settling=False)) == []
    watch.hear(MonitorStatus(status="ok"))
    assert words(watch.sweep(picture(monitor="tripped"), settling=False)) == ["monitor-reset"]


def test_a_lost_monitor_does_not_end_its_trip() -> None:
    watch = MonitorWatch()
    watch.hear(MonitorStatus(status="lost"))
    assert words(watch.sweep(picture(monitor="tripped"), settling=False)) == []


def test_the_broker_is_lost_once_a_loss() -> None:
    watch = BrokerWatch(0.5)
    assert words(watch.sweep(99.0)) == []
    watch.reach(100.0)
    assert words(watch.sweep(100.5)) == []
    assert len(list(watch.sweep(100.51))) == 1
    assert words(watch.sweep(100.6)) == []
    watch.reach(100.05)  # an old beat that comes back late proves nothing of now
    assert words(watch.sweep(100.7)) == []
    watch.reach(101.0)
    assert words(watch.sweep(101.1)) == []
    assert len(list(watch.sweep(101.6))) == 1
