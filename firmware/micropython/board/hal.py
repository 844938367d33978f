"""The board: pins and a hardware timer. Change this file for yours; nothing else knows what is wired.

`PINS` names the output of each lamp of each head. A pin that is not driven must be safe: a relay that
drops lights the fail aspect.
"""

import sys

from machine import PWM, Pin
from machine import Timer as _Timer

PINS = {"h1": {"red": 16, "yellow": 17, "green": 18}}
MOTOR_PIN, PEDAL_PIN, FULL_KMH = 20, 21, 60.0


def bench(config):
    """Nothing to prepare on a board."""


def log(text):
    sys.stderr.write(text + "\n")


class Timer:
    """A hardware timer: its call comes also while the program waits for half a packet."""

    def __init__(self, period_ms, call):
        self._timer = _Timer(-1)
        self._timer.init(period=period_ms, mode=_Timer.PERIODIC, callback=lambda _: call())

    def stop(self):
        self._timer.deinit()


class Lamps:
    """The lamps of one head; without a sensor nothing is proven."""

    def __init__(self, head):
        self._pins = {lamp: Pin(number, Pin.OUT, value=0) for lamp, number in PINS[head].items()}

    def light(self, lamps):
        for lamp, pin in self._pins.items():
            pin.value(lamp in lamps)

    def refresh(self):
        """Nothing to read back."""

    def proven(self):
        return None


class Motor:
    """A motor controller that takes its speed cap as a duty cycle, and a pedal's rest contact."""

    def __init__(self, kart):
        self._cap = PWM(Pin(MOTOR_PIN), freq=1000, duty_u16=0)
        self._pedal = Pin(PEDAL_PIN, Pin.IN, Pin.PULL_UP)

    def allow(self, kmh):
        self._cap.duty_u16(int(min(1.0, kmh / FULL_KMH) * 65535))

    def pedal_released(self):
        return not self._pedal.value()
