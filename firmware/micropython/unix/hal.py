"""The bench: MicroPython's unix port, with lamps and a motor on standard output.

Every change is a line, `lamps h1 red yellow` or `cap 7 12.5`: what is really driven, for whoever watches.
Lamps named in the file `burnt` do not light, and the sensor says so.
"""

import _thread
import sys
from time import sleep_ms

_burnt = None


def bench(config):
    """Take what the bench needs from the node's file."""
    global _burnt
    _burnt = config.get("burnt")


def log(text):
    sys.stderr.write(text + "\n")


def _say(text):
    sys.stdout.write(text + "\n")


class Timer:
    """A timer that calls, every `period_ms`, beside whatever the program does.

    This port has no machine.Timer: a thread stands in for the hardware's interrupt.
    """

    def __init__(self, period_ms, call):
        self._period_ms = period_ms
        self._call = call
        self._on = True
        _thread.start_new_thread(self._run, ())

    def stop(self):
        self._on = False

    def _run(self):
        while self._on:
            sleep_ms(self._period_ms)
            try:
                self._call()
            except Exception as wrong:  # a watchdog that dies must not leave a lamp as it is
                log("the watchdog: %r" % wrong)


class Lamps:
    """The lamps of one head, with a sensor for each."""

    def __init__(self, head):
        self._head = head
        self._wanted = []
        self._lit = None

    def light(self, lamps):
        self._wanted = lamps
        self.refresh()

    def refresh(self):
        lit = [lamp for lamp in self._wanted if lamp not in self._dark()]
        if lit != self._lit:
            self._lit = lit
            _say(" ".join(["lamps", self._head] + lit))

    def proven(self):
        return self._lit

    def _dark(self):
        if not _burnt:
            return ()
        try:
            with open(_burnt) as file:
                return file.read().split()
        except OSError:
            return ()


class Motor:
    """A motor controller's speed cap, and a pedal nobody presses."""

    def __init__(self, kart):
        self._kart = kart
        self._said = None

    def allow(self, kmh):
        if kmh != self._said:
            self._said = kmh
            _say("cap %s %.2f" % (self._kart, kmh))

    def pedal_released(self):
        return True
