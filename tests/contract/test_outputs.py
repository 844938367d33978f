"""One suite for every output, each against a peer that is not ours."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable, Mapping
from pathlib import Path

import pytest

from signals.outputs.line import Line, Point
from signals.outputs.virtual import Virtual
from tests.outputs.rigs import E131Rig, GpioRig, Rig, RtuRig, Stubborn, TcpRig, VirtualRig

MAKERS: dict[str, Callable[[Path], Rig]] = {
    "virtual": lambda _: VirtualRig(),
    "modbus-tcp": lambda _: TcpRig(),
    "modbus-rtu": RtuRig,
    "e131": lambda _: E131Rig(),
    "gpio": lambda _: GpioRig(),
}
BREAKS = [
    (name, how)
    for name, rig in (
        ("virtual", VirtualRig),
        ("modbus-tcp", TcpRig),
        ("modbus-rtu", RtuRig),
        ("e131", E131Rig),
        ("gpio", GpioRig),
    )
    for how in rig.breaks
]
GO = {"RED": 1, "YEL": 0}
FAIL = {"RED": 0, "YEL": 1}


@pytest.fixture
async def make(tmp_path: Path) -> AsyncIterator[Callable[..., object]]:
    rigs: list[Rig] = []

    async def made(name: str, **more: int) -> Rig:
        rigs.append(await MAKERS[name](tmp_path).start(**more))
        return rigs[-1]

    yield made
    Stubborn.unreachable = False
    for rig in rigs:
        await rig.stop()
        await rig.unplug()


every = pytest.mark.parametrize("name", MAKERS)
every_break = pytest.mark.parametrize(("name", "how"), BREAKS)


@every
async def test_before_anybody_shows_anything_the_fail_image_is_written(make: Callable, name: str) -> None:
    rig = await make(name)
    await rig.shows(**FAIL)


@every
async def test_a_change_is_written_at_once_and_the_whole_image_goes_on(make: Callable, name: str) -> None:
    rig = await make(name, refresh_ms=500)
    await rig.shows(**FAIL)
    await rig.until(lambda: not rig.output.lost)
    loop = asyncio.get_running_loop()
    await rig.until(lambda: rig.output._left == 0)
    began = loop.time()
    rig.output.show(GO, 3)
    await rig.shows(**GO)
    assert loop.time() - began < 0.4
    await rig.until(lambda: rig.output.done == 3)
    before = rig.writes()
    await rig.until(lambda: rig.writes() >= before + 2)
    assert rig.lamps() == GO


@every
async def test_commanded_driven_and_sensed_are_three_things(make: Callable, name: str) -> None:
    rig = await make(name)
    rig.output.show(GO)
    await rig.shows(**GO)
    await rig.until(lambda: rig.output.driven == GO)
    assert rig.output.commanded == GO
    if rig.has_sensors:
        await rig.until(lambda: rig.output.sensed == {"RED-S": 1, "YEL-S": 0})


@every
async def test_an_image_that_nobody_renews_gives_way_to_the_fail_image(make: Callable, name: str) -> None:
    rig = await make(name, lease_ms=400)

    def taken() -> bool:
        rig.output.show(GO, 1)  # again where this machine stood still for the lease
        return rig.output.done == 1

    await rig.until(taken)
    await rig.shows(**FAIL)
    assert rig.output.done == 0  # what stands on it is nobody's image


@every
async def test_on_the_way_out_the_fail_image_is_left(make: Callable, name: str) -> None:
    rig = await make(name)
    rig.output.show(GO)
    await rig.shows(**GO)
    await rig.stop()
    await rig.shows(**FAIL)


@every_break
async def test_on_the_way_out_a_device_that_comes_back_in_time_gets_its_fail_image(
    make: Callable, name: str, how: str
) -> None:
    rig = await make(name)
    rig.output.show(GO)
    await rig.until(lambda: rig.output.driven == GO)
    await rig.break_(how)
    rig.running.cancel()
    await asyncio.sleep(0)
    await rig.mend(how)
    await asyncio.gather(rig.running, return_exceptions=True)
    await rig.shows(**FAIL)


@every_break
async def test_lost_said_so_and_back_with_the_whole_image(make: Callable, name: str, how: str) -> None:
    rig = await make(name)
    rig.output.show(GO, 1)
    await rig.until(lambda: rig.output.driven == GO)
    await rig.break_(how)
    await rig.until(lambda: bool(rig.output.lost))
    assert rig.output.driven == {} == rig.output.sensed
    assert rig.output.done == 0
    assert not rig.running.done()
    await rig.mend(how)
    rig.output.show(GO, 2)
    await rig.until(lambda: not rig.output.lost and rig.output.done == 2)
    await rig.shows(**GO)


@pytest.mark.parametrize(
    ("name", "how"),
    [
        ("modbus-tcp", "cut"),
        ("modbus-tcp", "frozen"),
        ("modbus-rtu", "closed"),
        ("modbus-rtu", "frozen"),
        ("e131", "unreachable"),
    ],
)
async def test_a_device_left_alone_falls_within_its_watchdog_and_comes_back_whole(
    make: Callable, name: str, how: str
) -> None:
    """The peer's watchdog, or its data loss, is its own: the output only must let it run out."""
    rig = await make(name)
    rig.output.show(GO, 1)
    await rig.until(lambda: rig.output.driven == GO)
    loop = asyncio.get_running_loop()
    began = loop.time()
    await rig.break_(how)
    await rig.shows(**FAIL)
    assert loop.time() - began < rig.watchdog_ms / 1000 + 0.4
    assert rig.output.lost
    await rig.mend(how)
    rig.output.show(GO, 2)
    await rig.shows(**GO)
    assert not rig.running.done()


@every
async def test_a_backends_own_mistake_loses_the_device_and_no_more(make: Callable, name: str) -> None:
    rig = await make(name)
    await rig.until(lambda: not rig.output.lost)
    write = rig.output._write
    failing = True

    async def mistaken(raw: Mapping[Point, int]) -> None:
        if failing:
            raise ZeroDivisionError("a mistake")
        await write(raw)

    rig.output._write = mistaken
    rig.output.show(GO, 1)
    await rig.until(lambda: rig.output.lost == "a mistake")
    failing = False
    rig.output.show(GO, 2)
    await rig.until(lambda: rig.output.done == 2)
    await rig.shows(**GO)


@pytest.mark.parametrize(
    "image", [{"RED": 1}, {"RED": 1, "YEL": 0, "BLUE": 0}, {"RED": 2, "YEL": 0}, {"RED": -1, "YEL": 0}]
)
async def test_only_a_whole_image_of_levels_that_a_lamp_can_have(image: dict[str, int]) -> None:
    rig = await VirtualRig().start()
    with pytest.raises(ValueError, match=r"RED|differs"):
        rig.output.show(image)
    assert rig.output.commanded == FAIL
    await rig.stop()


@pytest.mark.parametrize(("refresh_ms", "watchdog_ms"), [(199, 0), (501, 0), (250, 499)])
def test_a_refresh_out_of_bounds_or_a_watchdog_too_short_is_refused(
    refresh_ms: int, watchdog_ms: int
) -> None:
    with pytest.raises(ValueError, match="must be"):
        Virtual(Line(protocol="virtual", watchdog_ms=watchdog_ms), refresh_ms=refresh_ms)
