"""Lamps on the pins of a single-board computer, over gpiozero: a bench adapter.

Closing makes a pin an input: whatever hangs on it is de-energised. So a lamp that must be lit when
this is gone hangs on a normally closed contact, and its row says `invert` and fails `on`; anything
else is refused. There is no watchdog: when this process freezes, pins stay as they are.

The pin driver is named, never guessed: gpiozero by itself would fall back to another one.
"""

from __future__ import annotations

import contextlib
from collections.abc import Mapping
from importlib.metadata import entry_points

from gpiozero import DigitalInputDevice, DigitalOutputDevice, GPIOZeroError
from gpiozero.pins import Factory

from signals.outputs.base import Output, Reading
from signals.outputs.line import Line, OutputLost, Point

DRIVERS = "gpiozero_pin_factories"
"""The entry points by which pin drivers are found."""


def pin_driver(name: str) -> Factory:
    """Load the pin driver of this name and no other; raises OutputLost where it is not there."""
    for found in entry_points(group=DRIVERS, name=name):
        try:
            made: Factory = found.load()()
        except (ImportError, OSError, GPIOZeroError) as reason:
            raise OutputLost(f"the pin driver {name} cannot be used here: {reason}") from reason
        return made
    known = ", ".join(sorted({each.name for each in entry_points(group=DRIVERS)}))
    raise OutputLost(f"there is no pin driver {name!r}; known: {known}")


class Gpio(Output):
    """The pins of this machine. Contacts close to ground, against the pin's own pull-up: closed reads 1.

    Raises:
        ValueError: a lamp whose fail state is not the de-energised one.

    """

    waits = False

    def __init__(
        self, line: Line, *, refresh_ms: int = 250, lease_ms: int = 500, driver: Factory | None = None
    ) -> None:
        super().__init__(line, refresh_ms=refresh_ms, lease_ms=lease_ms)
        for point in line.outs:
            if point.raw(point.fail_level):
                right = "a pin that is closed is de-energised: fail off, or fail on with invert"
                raise ValueError(f"{point.ref}: {right}")
        self._driver = driver
        self._outs: dict[Point, DigitalOutputDevice] = {}
        self._ins: dict[Point, DigitalInputDevice] = {}

    async def _open(self) -> None:
        self._driver = self._driver or pin_driver(self.line.host)
        try:
            for point in self.line.outs:
                if point not in self._outs:
                    self._outs[point] = DigitalOutputDevice(
                        point.address, initial_value=False, pin_factory=self._driver
                    )
            for point in self.line.ins:
                if point not in self._ins:
                    self._ins[point] = DigitalInputDevice(
                        point.address, pull_up=True, pin_factory=self._driver
                    )
        except GPIOZeroError as reason:
            raise OutputLost(str(reason)) from reason

    async def _write(self, raw: Mapping[Point, int]) -> None:
        try:
            for point, value in raw.items():
                self._outs[point].value = value
        except GPIOZeroError as reason:
            raise OutputLost(str(reason)) from reason

    async def _read(self) -> Reading:
        try:
            return Reading(_levels(self._outs), _levels(self._ins))
        except GPIOZeroError as reason:
            raise OutputLost(str(reason)) from reason

    async def _close(self, *, final: bool) -> None:
        del final
        for device in (*self._outs.values(), *self._ins.values()):
            with contextlib.suppress(GPIOZeroError):
                device.close()
        self._outs, self._ins = {}, {}


def _levels(
    devices: Mapping[Point, DigitalOutputDevice] | Mapping[Point, DigitalInputDevice],
) -> dict[str, int]:
    return {point.ref: point.level(int(device.value)) for point, device in devices.items()}
