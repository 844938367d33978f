from __future__ import annotations

from typing import Any

import pytest


def at_speed(bench: Any, limit_kmh: float = 45.0) -> None:
    bench.beat()
    bench.caps()
    bench.limit_to(limit_kmh)
    assert bench.limit == limit_kmh


def test_after_boot_a_kart_stands(bench: Any) -> None:
    assert bench.limit == 0
    bench.beat()
    bench.caps()
    bench.to(10_000)
    assert bench.limit == 0


@pytest.mark.parametrize("wrong", [{"boot": "bbbb"}, {"epoch": 0}, {"epoch": 2}, {"inc": "w99999"}], ids=str)
def test_a_limit_must_fit_boot_epoch_and_incarnation(bench: Any, wrong: dict[str, Any]) -> None:
    bench.beat()
    bench.limit_to(45.0, **wrong)
    assert bench.limit == 0


def test_a_lapse_gives_caution_at_the_lease_and_creep_three_seconds_later(bench: Any) -> None:
    at_speed(bench)
    for at_ms, limit_kmh in ((499.999, 45), (500, 15), (3499.999, 15), (3500, 5), (60_000, 5)):
        bench.to(at_ms)
        assert bench.limit == limit_kmh


def test_the_fall_to_creep_counts_from_the_lapse_even_if_the_clock_was_late(bench: Any) -> None:
    at_speed(bench)
    bench.now_ms = 700.0
    bench.beat()
    assert bench.device.due_ms <= 3500
    bench.now_ms = 3500.0
    bench.beat()
    assert bench.limit == 5


@pytest.mark.parametrize(("before", "lapsed", "later"), [(12.0, 12.0, 5.0), (4.0, 4.0, 4.0), (0.0, 0.0, 0.0)])
def test_a_lapse_never_raises(bench: Any, before: float, lapsed: float, later: float) -> None:
    at_speed(bench, before)
    bench.to(600)
    assert bench.limit == lapsed
    bench.to(4000)
    assert bench.limit == later


def test_after_a_lapse_only_a_new_order_raises(bench: Any) -> None:
    at_speed(bench)
    before = bench.inc
    bench.to(600)
    bench.beat()
    bench.limit_to(45.0, inc=before)
    assert bench.limit == 15
    bench.limit_to(45.0)
    assert bench.limit == 45


def test_without_the_constants_a_kart_falls_to_a_stand(bench: Any) -> None:
    bench.beat()
    bench.limit_to(45.0)
    bench.to(500)
    assert bench.limit == 0


def test_the_constants_last_until_the_next_boot(bench: Any) -> None:
    at_speed(bench)
    bench.to(600)
    bench.beat()
    bench.limit_to(45.0)
    bench.to(1100)
    assert bench.limit == 15
    bench.device.boot_up(bench.now_ms)
    bench.beat()
    bench.limit_to(45.0)
    bench.to(2000)
    assert bench.limit == 0


def test_new_constants_never_raise_a_limit(bench: Any) -> None:
    at_speed(bench)
    bench.beat(epoch=2)
    bench.caps(fail_kmh=30.0)
    assert bench.limit == 15
    bench.caps(fail_kmh=8.0)
    assert bench.limit == 8


def test_constants_for_another_incarnation_are_not_taken(bench: Any) -> None:
    bench.beat()
    bench.caps(inc="w99999", fail_kmh=99.0)
    bench.limit_to(45.0)
    bench.to(500)
    assert bench.limit == 0


def test_a_stop_is_obeyed_at_once_from_any_boot(bench: Any) -> None:
    at_speed(bench)
    bench.beat("bbbb", stop=True)
    assert bench.limit == 0


def test_the_same_order_does_not_raise_again_after_a_stop_without_a_new_epoch(bench: Any) -> None:
    at_speed(bench)
    bench.beat(stop=True)
    bench.beat(stop=False)
    assert bench.limit == 0


def test_taken_says_what_is_obeyed_on_change_and_between(bench: Any) -> None:
    at_speed(bench)
    assert bench.last("kart", "7", "taken").limit_kmh == 45
    said = len(bench.said)
    bench.to(400)
    assert len([say for _, say in bench.said[said:] if say.levels[-1] == "taken"]) >= 3
