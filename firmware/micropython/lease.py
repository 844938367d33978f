"""Whom a node obeys, and for how long. Times are ms of the board's own tick counter, which wraps."""

import os
from time import ticks_add, ticks_diff

SEQ_MAX = 2147483647
BOOTS_KEPT = 4


def draw():
    """Draw a word for a boot or an incarnation: random, so that no old message can fit."""
    return "".join("%02x" % byte for byte in os.urandom(4))


def newer(seq, than):
    """Tell whether a number comes after another, the shorter way round."""
    return 0 < (seq - than) % SEQ_MAX <= SEQ_MAX // 2


class Lease:
    """`beat` is (boot, epoch, test) of the boot in charge, None while nobody is.

    Each field is replaced whole, so that the watchdog, which may come at any moment, never sees half.
    """

    def __init__(self, ms):
        self.ms = ms
        self.inc = draw()
        self.beat = None
        self.ends = 0
        self.stop = False
        self.echo = 0
        self._heard = []

    def alive(self, now):
        """Tell whether the lease runs; at its very end it does not."""
        return self.beat is not None and ticks_diff(self.ends, now) > 0

    def pass_time(self, now):
        """Let the lease lapse if it is over: nothing said to the old incarnation counts any more."""
        if self.beat is not None and not self.alive(now):
            self._lapse()

    def hear(self, boot, seq, epoch, stop, test, now):
        """Take a beat. Late and doubled ones renew nothing; one of a second boot is a lapse."""
        last = [each for each in self._heard if each[0] == boot]
        fresh = not last or newer(seq, last[0][1])
        others = [each for each in self._heard if each[0] != boot]
        self._heard = (others + [(boot, seq if fresh else last[0][1], now)])[-BOOTS_KEPT:]
        if fresh:
            self.echo = seq
        if any(ticks_diff(now, at) < self.ms for _, _, at in others):
            self.stop = self.stop or stop
            self._lapse()
        elif fresh:
            self.stop = stop
            self.ends = ticks_add(now, self.ms)
            self.beat = (boot, epoch, test)

    def _lapse(self):
        if self.beat is not None:
            self.beat = None
            self.inc = draw()


class Orders:
    """The newest order of each boot that was addressed to this incarnation."""

    def __init__(self, lease, by_epoch=True):
        self._lease = lease
        self._by_epoch = by_epoch
        self._kept = {}

    def take(self, order):
        """Keep an order if it is meant for this node as it is now, and newer than what is kept."""
        inc = self._lease.inc
        kept = {boot: each for boot, each in self._kept.items() if each["inc"] == inc}
        last = kept.get(order["boot"])
        if order["inc"] == inc and (last is None or newer(order["seq"], last["seq"])):
            kept[order["boot"]] = order
        self._kept = kept

    def current(self, now):
        """Give the order that is borne out now: lease, boot, epoch, incarnation. Else None."""
        beat = self._lease.beat
        if beat is None or not self._lease.alive(now):
            return None
        order = self._kept.get(beat[0])
        if order is None or order["inc"] != self._lease.inc:
            return None
        return order if not self._by_epoch or order["epoch"] == beat[1] else None
