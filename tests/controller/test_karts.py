"""Karts: heard, obeying, moving, standing, too fast."""

from __future__ import annotations

from typing import Any

import pytest

from signals.controller.karts import Allowed, Karts
from signals.controller.nodes import Nodes
from tests.controller.made import harbour, picture, status, taken, where, words

SETTLE_S = harbour().timing.settle / 1000
STOOD_S = harbour().timing.stood / 1000
OUT = {"place": "s3", "limit_kmh": 45.0, "moving": True}


class Bench:
    """Kart 7, heard and addressed at 0 s."""

    def __init__(self) -> None:
        self.nodes = Nodes(harbour())
        self.karts = Karts(harbour(), self.nodes)
        self.nodes.address("k7", status("k7", "inc1"), 0.0)
        self.hear(0.0, 0.0)

    def hear(self, limit_kmh: float, sent_at_s: float | None) -> None:
        self.karts.hear(7, taken(limit_kmh), sent_at_s)

    def sweep(self, now_s: float, *, heard: bool = True, settling: bool = True, **kart: Any) -> list[str]:
        if heard:
            self.hear(kart.get("limit_kmh", 0.0), now_s)
        return words(self.karts.sweep(picture(karts={7: kart}), now_s, settling=settling))

    def drive(self, now_s: float, speed: float | None, **kart: Any) -> list[str]:
        self.karts.see(7, where("s3", speed=speed), now_s)
        return self.sweep(now_s, **(OUT | kart))


@pytest.fixture
def bench() -> Bench:
    return Bench()


def test_a_kart_whose_echo_is_older_than_its_lease_is_lost_and_comes_back(bench: Bench) -> None:
    assert bench.sweep(1.0, heard=False) == []
    assert bench.sweep(1.01, heard=False) == ["kart-lost 7"]
    assert bench.sweep(1.5, link=False) == ["kart-back 7"]


def test_karts_never_heard_are_lost_once_the_start_is_over(bench: Bench) -> None:
    assert bench.sweep(0.1, settling=True) == []
    others = [f"kart-lost {kart.number}" for kart in harbour().karts if kart.number != 7]
    assert bench.sweep(0.1, settling=False) == others


def test_a_kart_of_a_new_incarnation_is_back_only_after_a_beat_since(bench: Bench) -> None:
    bench.nodes.address("k7", status("k7", "inc2"), 0.5)
    assert bench.sweep(0.6, heard=False, link=False) == []
    assert bench.sweep(0.7, link=False) == ["kart-back 7"]


def test_on_the_track_a_kart_nobody_sees_any_more_is_lost(bench: Bench) -> None:
    assert bench.drive(0.0, 40.0) == []
    assert bench.sweep(2.0, **OUT) == []
    assert bench.sweep(2.1, **OUT) == ["kart-lost 7"]


def test_in_the_pit_nobody_has_to_see_a_kart(bench: Bench) -> None:
    bench.karts.see(7, where("pit", speed=0.0), 0.0)
    assert "kart-lost 7" not in bench.sweep(30.0, moving=True)


def test_a_limit_not_taken_in_time_is_missed_and_taken_later(bench: Bench) -> None:
    bench.hear(0.0, 0.0)
    assert bench.sweep(0.0, heard=False, limit_kmh=8.0) == []
    assert bench.sweep(SETTLE_S + 0.01, heard=False, limit_kmh=8.0) == ["limit-missed 7"]
    assert bench.sweep(SETTLE_S + 0.1, limit_kmh=8.0, taken=False) == ["limit-taken 7"]


def test_a_limit_obeyed_below_the_one_told_is_missed_too(bench: Bench) -> None:
    bench.sweep(0.0, limit_kmh=8.0)
    bench.hear(0.0, 0.1)
    assert bench.sweep(SETTLE_S + 0.1, heard=False, limit_kmh=8.0) == ["limit-missed 7"]


def test_an_unheard_kart_is_not_accused_of_its_limit(bench: Bench) -> None:
    bench.sweep(0.0, heard=False, limit_kmh=8.0)
    assert bench.sweep(5.0, heard=False, limit_kmh=8.0, link=False) == []


def test_motion_is_told_when_it_changes(bench: Bench) -> None:
    assert bench.drive(0.0, 20.0, moving=False) == ["kart-rolls 7"]
    assert bench.drive(0.1, 0.4, moving=True) == ["kart-stands 7"]
    assert bench.drive(0.2, 0.4, moving=False) == []


def test_an_unknown_speed_counts_as_moving(bench: Bench) -> None:
    assert bench.drive(0.0, None, moving=False) == ["kart-rolls 7"]


def test_a_kart_standing_though_it_may_drive_is_told_once(bench: Bench) -> None:
    stands = {"moving": False}
    assert bench.drive(0.0, 0.0, **stands) == []
    assert bench.drive(STOOD_S - 0.1, 0.0, **stands) == []
    assert bench.drive(STOOD_S, 0.0, **stands) == ["kart-standing 7"]
    assert bench.drive(STOOD_S + 1, 0.0, **stands) == []
    bench.drive(STOOD_S + 2, 20.0)
    bench.drive(STOOD_S + 3, 0.0, **stands)
    assert bench.drive(2 * STOOD_S + 3, 0.0, **stands) == ["kart-standing 7"]


def test_a_kart_that_must_stand_is_not_standing_in_the_way(bench: Bench) -> None:
    for now_s in (0.0, 3.0, 6.0):
        assert bench.drive(now_s, 0.0, moving=False, limit_kmh=0.0) == []
    bench.drive(7.0, 0.0, moving=False)
    assert bench.drive(9.9, 0.0, moving=False) == []
    assert bench.drive(10.0, 0.0, moving=False) == ["kart-standing 7"]


def test_a_kart_over_its_limit_is_told_once(bench: Bench) -> None:
    bench.drive(0.0, 45.0)
    assert bench.drive(0.1, 49.9) == []
    assert bench.drive(0.2, 50.1) == ["kart-over-limit 7"]
    assert bench.drive(0.3, 50.1) == []


def test_a_boost_is_allowed_for(bench: Bench) -> None:
    bench.drive(0.0, 45.0, boosts=1)
    assert bench.drive(0.2, 54.0, boosts=1) == []


def test_a_falling_limit_is_given_its_ramp(bench: Bench) -> None:
    """45 to 15 km/h at 2 m/s² (7.2 km/h a second) takes 4.17 s; the command may take `settle` to arrive."""
    bench.drive(0.0, 45.0)
    bench.drive(0.1, 45.0, limit_kmh=15.0)
    after_s = 0.1 + SETTLE_S + 2.0
    assert bench.drive(after_s, 45.0 - 2 * 7.2 + 4.9, limit_kmh=15.0) == []
    assert bench.drive(after_s + 0.1, 45.0 - 2 * 7.2 + 4.9, limit_kmh=15.0) == ["kart-over-limit 7"]


def test_the_ramp_goes_on_through_a_second_fall() -> None:
    allowed = Allowed(0.0)
    allowed.command(45.0, 0.0, 2.0)
    allowed.command(15.0, 0.0, 2.0)
    allowed.command(0.0, 1.0, 2.0)
    assert allowed.at(1.0, 2.0) == pytest.approx(45.0 - 7.2)
    assert allowed.at(2.0, 2.0) == pytest.approx(45.0 - 2 * 7.2)
    assert allowed.at(60.0, 2.0) == 0.0
