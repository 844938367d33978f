"""How fast a lamp flashes, from what its sensor saw: never from what was commanded."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator

import pytest
from msgspec import UNSET

from signals.flash import HIGHEST_HZ, QUIET_MS, FlashMeter, lit
from signals.mqtt.contract import Flash
from signals.outputs.base import POLL_MS
from signals.words import Aspect
from tests.outputs.test_nodes import Desk, in_virtual_time

YELLOW = "H3-YEL"


def polls(for_ms: float, dice: random.Random | None = None, every_ms: float = POLL_MS) -> Iterator[float]:
    """Give the moments a sensor is read at: in step, or as unsteady as a busy machine reads it."""
    now_ms = 0.0
    while now_ms < for_ms:
        yield now_ms
        now_ms += every_ms if dice is None else dice.uniform(0.5, 1.5) * every_ms


def watched(light: Callable[[float], bool], moments: Iterator[float]) -> tuple[FlashMeter, float]:
    meter, now_ms = FlashMeter(), 0.0
    for now_ms in moments:
        meter.see(now_ms, lit=light(now_ms))
    return meter, now_ms


@pytest.mark.parametrize("hz", [0.2, 0.5, 1.0, 1.5, 2.0, 3.0])
@pytest.mark.parametrize("seed", range(5))
def test_an_unsteadily_read_sensor_gives_the_rate_all_the_same(hz: float, seed: int) -> None:
    """Two readings, 150 ms apart at most, over the flashes it was measured by."""
    period_ms = 1000 / hz
    dice = random.Random(seed)  # noqa: S311 - no secret
    meter, now_ms = watched(lambda at_ms: lit(at_ms, period_ms, period_ms / 2), polls(8 * period_ms, dice))
    measured = meter.hz(now_ms)
    assert measured is not None
    assert 5 / (5 / hz + 0.151) <= measured <= 5 / (5 / hz - 0.151)


def test_three_rising_edges_are_needed_and_the_first_is_the_first_seen() -> None:
    """Lit when the watch begins is no edge: nobody saw it rise."""
    meter = FlashMeter()
    said = []
    for now_ms in range(0, 3600, 100):
        meter.see(now_ms, lit=lit(now_ms, 1000, 500))
        said.append((now_ms, meter.hz(now_ms)))
    assert next(now_ms for now_ms, hz in said if hz is not None) == 3000
    assert said[-1][1] == 1.0


@pytest.mark.parametrize("stuck", [True, False], ids=["lit", "dark"])
def test_a_lamp_stuck_lit_or_dark_is_not_known_at_first_and_then_does_not_flash(stuck: bool) -> None:
    meter = FlashMeter()
    for now_ms in polls(QUIET_MS + 300):
        meter.see(now_ms, lit=stuck)
        assert meter.hz(now_ms) == (0.0 if now_ms > QUIET_MS else None)


def test_a_lamp_that_stops_flashing_gets_slower_at_once_and_then_does_not_flash() -> None:
    meter = FlashMeter()
    rates = {}
    for now_ms in polls(15_000):
        meter.see(now_ms, lit=now_ms < 8000 and lit(now_ms, 1000, 500))
        rates[now_ms] = meter.hz(now_ms)
    assert (rates[7900], rates[8000]) == (1.0, 1.0)
    assert rates[10_000] == pytest.approx(6 / 8)  # five flashes from 2 s on, and one that lasts 3 s already
    assert (rates[13_000] or 0) > 0
    assert rates[13_100] == 0.0


def test_a_lamp_that_flashes_again_is_measured_anew() -> None:
    meter = FlashMeter()
    for now_ms in polls(20_000):
        meter.see(now_ms, lit=not 5000 <= now_ms < 15_000 and lit(now_ms, 1000, 500))
    assert meter.hz(20_000) == 1.0


def test_a_gap_in_the_readings_is_no_dark_lamp() -> None:
    meter, now_ms = watched(lambda at_ms: lit(at_ms, 1000, 500), polls(6000))
    assert meter.hz(now_ms) == 1.0
    meter.forget()
    assert meter.hz(now_ms) is None


def test_noise_is_told_as_no_more_than_the_contract_bears() -> None:
    meter = FlashMeter()
    for now_ms in range(0, 200, 1):
        meter.see(now_ms, lit=bool(now_ms % 2))
    assert meter.hz(200) == HIGHEST_HZ


def test_a_wired_head_measures_while_it_flashes_and_only_then() -> None:
    async def story(desk: Desk) -> None:
        await desk.green("h3")
        assert desk.shown["h3"].flash_hz is UNSET
        desk.command("h3", Aspect.YELLOW_FLASH)
        await desk.beating(0.5)
        assert desk.shown["h3"].flash_hz is None  # not watched for long enough
        await desk.beating(5.0)
        assert desk.shown["h3"].flash_hz == pytest.approx(1.0, abs=0.03)
        desk.command("h2", Aspect.YELLOW_FLASH)
        await desk.beating(5.0)
        assert desk.shown["h2"].flash_hz is UNSET  # no sensors

    in_virtual_time(story)


@pytest.mark.parametrize(("period_ms", "lit_ms"), [(600, 300), (1300, 900), (4000, 2000)])
def test_it_is_what_the_sensor_sees_and_not_what_was_commanded(period_ms: int, lit_ms: int) -> None:
    async def story(desk: Desk) -> None:
        desk.device(YELLOW).flashers[YELLOW] = period_ms, lit_ms
        await desk.beating(0.3)
        desk.command("h3", Aspect.YELLOW_FLASH, flash=Flash(period_ms=1000, lit_ms=500))
        await desk.beating(6 * period_ms / 1000 + 1)
        assert desk.shown["h3"].flash_hz == pytest.approx(1000 / period_ms, rel=0.05)

    in_virtual_time(story)


def test_a_lamp_that_stays_lit_is_proven_but_does_not_flash() -> None:
    """Its sensor agrees in every bright half, and lights are no conflict; only the rate tells."""

    async def story(desk: Desk) -> None:
        desk.device(YELLOW).flashers[YELLOW] = 1000, 1000
        await desk.beating(0.3)
        desk.command("h3", Aspect.YELLOW_FLASH)
        await desk.beating(QUIET_MS / 1000 + 1)
        assert (desk.shown["h3"].aspect, desk.shown["h3"].proven) == (Aspect.YELLOW_FLASH, ["yellow"])
        assert desk.shown["h3"].flash_hz == 0.0

    in_virtual_time(story)


def test_a_dead_lamp_does_not_flash() -> None:
    async def story(desk: Desk) -> None:
        desk.device(YELLOW).dead.add(YELLOW)
        await desk.beating(0.3)
        desk.command("h3", Aspect.YELLOW_FLASH)
        await desk.beating(QUIET_MS / 1000 + 1)
        assert (desk.shown["h3"].proven, desk.shown["h3"].flash_hz) == ([], 0.0)

    in_virtual_time(story)


def test_a_device_that_was_lost_for_a_moment_is_measured_anew() -> None:
    async def story(desk: Desk) -> None:
        await desk.beating(0.3)
        desk.command("h3", Aspect.YELLOW_FLASH)
        await desk.beating(5.0)
        desk.device(YELLOW).unreachable = "a hiccup"
        await desk.beating(0.2)
        desk.device(YELLOW).unreachable = ""
        await desk.beating(0.4)
        assert desk.shown["h3"].flash_hz is None
        await desk.beating(5.0)
        assert desk.shown["h3"].flash_hz == pytest.approx(1.0, abs=0.03)

    in_virtual_time(story)
