from __future__ import annotations

from itertools import pairwise
from typing import Any

import pytest
from msgspec import UNSET

from signals.mqtt.contract import Inject
from signals.nodes.organ import Rejected
from signals.words import Aspect

GREEN, RED, YELLOW, DARK = Aspect.GREEN, Aspect.RED, Aspect.YELLOW_FLASH, Aspect.DARK


def green(bench: Any, *heads: str) -> None:
    bench.beat()
    for head in heads or ("h1",):
        bench.aspect(GREEN, head)
        assert bench.shows(head) is GREEN


def test_after_boot_a_head_shows_the_fail_aspect_of_its_role(bench: Any) -> None:
    assert [bench.shows(head) for head in ("h1", "px1", "st1")] == [YELLOW, RED, RED]


def test_a_fresh_beat_alone_changes_nothing(bench: Any) -> None:
    bench.beat()
    assert bench.shows() is YELLOW


@pytest.mark.parametrize(
    "wrong", [{"boot": "bbbb"}, {"epoch": 0}, {"epoch": 2}, {"inc": "w99999"}, {"inc": ""}], ids=str
)
def test_an_order_must_fit_boot_epoch_and_incarnation(bench: Any, wrong: dict[str, Any]) -> None:
    bench.beat()
    bench.aspect(GREEN, **wrong)
    assert bench.shows() is YELLOW
    bench.aspect(GREEN)
    assert bench.shows() is GREEN


def test_an_order_that_overtook_its_beat_waits_for_it(bench: Any) -> None:
    green(bench)
    bench.aspect(GREEN, epoch=2)
    assert bench.shows() is YELLOW
    bench.beat(epoch=2)
    assert bench.shows() is GREEN


def test_an_order_before_the_first_beat_waits_for_it(bench: Any) -> None:
    bench.aspect(GREEN)
    bench.beat()
    assert bench.shows() is GREEN


@pytest.mark.parametrize("seq", [5, 4])
def test_a_late_or_doubled_order_is_dropped(bench: Any, seq: int) -> None:
    bench.beat()
    bench.aspect(YELLOW, seq=5)
    bench.aspect(GREEN, seq=seq)
    assert bench.shows() is YELLOW


def test_numbers_of_orders_go_round(bench: Any) -> None:
    bench.beat()
    bench.aspect(YELLOW, seq=2**31 - 1)
    bench.aspect(GREEN, seq=1)
    assert bench.shows() is GREEN


@pytest.mark.parametrize(("head", "fail"), [("h1", YELLOW), ("px1", RED), ("st1", RED)])
def test_a_lapse_gives_the_fail_aspect_at_the_lease_and_not_before(
    bench: Any, head: str, fail: Aspect
) -> None:
    bench.to(1000)
    green(bench, head)
    bench.to(1499.999)
    assert bench.shows(head) is GREEN
    bench.to(1500)
    assert bench.shows(head) is fail


def test_a_beat_at_the_very_lease_comes_too_late(bench: Any) -> None:
    green(bench)
    bench.now_ms = 500.0
    bench.beat()
    assert bench.shows() is YELLOW


def test_a_lapse_draws_an_incarnation_and_says_so(bench: Any) -> None:
    green(bench)
    before = bench.inc
    bench.to(500)
    assert bench.inc != before
    assert bench.last("node", "n1", "status").inc == bench.inc
    bench.beat()
    bench.aspect(GREEN, inc=before)
    assert bench.shows() is YELLOW
    bench.aspect(GREEN)
    assert bench.shows() is GREEN


def test_silence_draws_one_incarnation_only(bench: Any) -> None:
    green(bench)
    bench.to(500)
    drawn = bench.inc
    bench.to(5000)
    assert bench.inc == drawn


def test_a_stop_is_obeyed_at_once_and_red_is_kept_through_a_lapse(bench: Any) -> None:
    green(bench)
    bench.beat(epoch=2, stop=True)
    assert bench.shows() is RED
    bench.to(2000)
    assert bench.shows() is RED


def test_a_stop_outranks_an_order_of_its_epoch(bench: Any) -> None:
    bench.beat(epoch=2, stop=True)
    bench.aspect(GREEN, epoch=2)
    assert bench.shows() is RED


def test_the_end_of_a_stop_brings_no_old_green(bench: Any) -> None:
    green(bench)
    bench.beat(epoch=2, stop=True)
    bench.beat(epoch=3)
    assert bench.shows() is YELLOW


def test_a_stop_of_a_foreign_boot_is_obeyed_at_once(bench: Any) -> None:
    green(bench)
    bench.beat("bbbb", stop=True)
    assert bench.shows() is RED
    bench.beat("aaaa")
    assert bench.shows() is RED


def test_a_late_beat_neither_renews_nor_brings_back_its_epoch(bench: Any) -> None:
    bench.beat(seq=5)
    bench.aspect(GREEN)
    bench.to(100)
    bench.beat(seq=7, epoch=2)
    bench.to(200)
    bench.beat(seq=6)
    assert bench.shows() is YELLOW
    assert bench.device.lease.ends_ms == 600


def test_two_boots_within_a_lease_give_the_fail_aspect_until_one_was_alone_for_a_lease(bench: Any) -> None:
    green(bench)
    bench.to(100)
    bench.beat("bbbb")
    assert bench.shows() is YELLOW
    for at_ms in (200, 400, 599):
        bench.to(at_ms)
        bench.beat()
        bench.aspect(GREEN)
        assert bench.shows() is YELLOW
    bench.to(600)
    bench.beat()
    assert bench.shows() is GREEN, "ordered anew, to the incarnation drawn when the second boot was heard"


def test_after_two_boots_green_needs_a_new_order(bench: Any) -> None:
    green(bench)
    bench.beat("bbbb")
    bench.to(500)
    bench.beat()
    assert bench.shows() is YELLOW


def test_a_second_boot_after_the_lease_takes_over(bench: Any) -> None:
    green(bench)
    bench.to(500)
    bench.beat("bbbb")
    bench.aspect(GREEN, boot="bbbb")
    assert bench.shows() is GREEN


def test_orders_of_two_boots_do_not_displace_each_other(bench: Any) -> None:
    bench.beat("bbbb")
    bench.beat("aaaa")
    bench.aspect(YELLOW, seq=50)
    bench.aspect(RED, boot="bbbb", seq=60)
    bench.aspect(GREEN, seq=49)
    bench.to(500)
    bench.beat("aaaa")
    assert bench.shows() is YELLOW


def test_a_trip_of_the_monitor_is_red_until_its_reset_with_or_without_a_controller(bench: Any) -> None:
    green(bench)
    bench.trip()
    assert bench.shows() is RED
    bench.to(3000)
    assert bench.shows() is RED
    bench.trip(tripped=False)
    assert bench.shows() is YELLOW


def test_single_lamps_are_obeyed_only_in_a_test(bench: Any) -> None:
    bench.beat()
    bench.aspect(DARK, lamps=["green"])
    assert bench.last("head", "h1", "shown").driven == []
    bench.beat(test=True)
    assert bench.last("head", "h1", "shown").driven == ["green"]
    bench.beat()
    assert bench.last("head", "h1", "shown").driven == []


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"aspect": "yellow"}, "cannot show yellow"),
        ({"aspect": "dark", "lamps": ["violet"]}, "no lamp violet"),
        ({"aspect": "number", "number": 7, "head": "px1"}, "no number display"),
        ({"aspect": "yellow-flash", "flash": {"period_ms": 500, "lit_ms": 600}}, "600 of 500"),
    ],
)
def test_what_a_head_cannot_do_is_rejected_and_changes_nothing(
    bench: Any, wrong: dict[str, Any], says: str
) -> None:
    head = wrong.get("head", "h1")
    green(bench, head)
    bench.aspect(**{**wrong, "aspect": Aspect(wrong["aspect"])})
    assert bench.shows(head) is GREEN
    assert bench.device.status.rejects == 1
    assert says in bench.device.status.last_reject


def test_shown_echoes_the_beat_and_repeats_at_least_three_times_a_lease(bench: Any) -> None:
    bench.beat(seq=41)
    for at_ms in range(100, 2001, 100):
        bench.to(at_ms)
        bench.beat(seq=41 + at_ms // 100)
    told = [(at_ms, say.message) for at_ms, say in bench.said if say.levels == ("head", "h1", "shown")]
    times = [at_ms for at_ms, _ in told]
    assert max(b - a for a, b in pairwise(times)) <= 500 / 3
    assert [shown.seq for _, shown in told] == list(range(1, len(told) + 1))
    assert told[-1][1].beat_seq >= 60


def test_proven_is_unknown_without_a_sensor(make_bench: Any) -> None:
    bench = make_bench(sensors=frozenset({"px1"}))
    bench.to(200)
    assert bench.last("head", "h1", "shown").proven is None
    assert bench.last("head", "px1", "shown").proven == ["red"]


def flashing(bench: Any, at_ms: int) -> Any:
    """What a head says of its flash after so long of fresh beats."""
    while bench.now_ms < at_ms:
        bench.beat()
        bench.to(bench.now_ms + 100)
    return bench.last("head", "h1", "shown").flash_hz


def test_a_sensor_measures_the_flash_and_nothing_else_does(make_bench: Any) -> None:
    bench = make_bench(sensors=frozenset({"h1"}))
    assert [flashing(bench, at_ms) for at_ms in (1000, 2000, 8000)] == [None, None, 1.0]
    bench.aspect(YELLOW, flash={"period_ms": 500, "lit_ms": 250})
    assert flashing(bench, 8300) is None, "another pattern is measured anew"
    assert flashing(bench, 12000) == 2.0
    bench.aspect(GREEN)
    assert flashing(bench, 13000) is UNSET
    plain = make_bench(sensors=frozenset({"px1"}))
    assert flashing(plain, 8000) is UNSET


@pytest.mark.parametrize(("event", "hz"), [("slow-flash", 0.5), ("no-flash", 0.0)])
def test_a_flashers_fault_is_seen_by_the_sensor_alone(make_bench: Any, event: str, hz: float) -> None:
    bench = make_bench(sensors=frozenset({"h1"}))
    bench.device.inject(Inject(id="e1", event=event, head="h1"), bench.now_ms)
    assert flashing(bench, 13_000) == hz
    told = bench.last("head", "h1", "shown")
    assert (told.aspect, told.driven, told.proven) == (YELLOW, ["yellow"], ["yellow"])
    bench.device.inject(Inject(id="e2", event="head-back"), bench.now_ms)
    assert flashing(bench, 26_000) == 1.0


def test_a_flashers_fault_is_refused_where_no_sensor_would_see_it(bench: Any) -> None:
    with pytest.raises(Rejected, match="only a sensor does"):
        bench.device.inject(Inject(id="e1", event="no-flash", head="h1"), 0.0)
