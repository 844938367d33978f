"""A kart's limiter. `micropython kart.py NODE.json`; on a board: `import kart; kart.main(["node.json"])`.

Boost and reverse are left to the motor controller; what is driven here is the highest speed it may allow.
"""

import sys
from time import ticks_add, ticks_diff

import hal
from lease import Orders
from node import BOOT, COUNT, INC, SEQ, Node, configured, number, read, whole

CREEP_AFTER_MS = 3000
KMH_PER_MPS = 3.6
KMH, MPS2 = number(0, 200), number(0, 20)
LIMIT = {"boot": BOOT, "seq": SEQ, "epoch": COUNT, "inc": INC, "limit_kmh": KMH, "boosts": whole(0, 9)}
FALLS = ("stop_kmh", "fail_kmh", "creep_kmh")
CAPS = {"boot": BOOT, "seq": SEQ, "inc": INC, "fall_mps2": MPS2, "rise_mps2": MPS2}
CAPS.update(dict.fromkeys(FALLS + ("reverse_kmh", "boost_kmh"), KMH))


class Limiter:
    """One kart: the limit it obeys, and the cap it drives, which follows the limit along the ramps."""

    def __init__(self, node, kart):
        name = str(kart)
        self.tripped = False
        self.orders = (("kart", name, "limit"), ("kart", name, "caps"))
        self.says = ("kart", name, "taken")
        self.limit = 0.0
        self._lease = node.lease
        self._limits = Orders(node.lease)
        self._constants = Orders(node.lease, by_epoch=False)
        self._caps = dict.fromkeys(CAPS, 0.0)
        self._obeyed = None
        self._alone = None
        self._said = 0.0
        self._cap = 0.0
        self._moved = None
        self._motor = hal.Motor(name)

    def take(self, what, payload):
        if what == "limit":
            self._limits.take(read(payload, LIMIT))
        else:
            self._constants.take(read(payload, CAPS))

    def settle(self, now):
        """Obey the order that is borne out, once; without one fall, and after a while creep."""
        self._caps = self._constants.current(now) or self._caps
        order = self._limits.current(now)
        if order is None:
            if self._alone is None:
                self._alone = now
        else:
            self._alone = None
            if order is not self._obeyed:
                self._obeyed = order
                self.limit = float(order["limit_kmh"])
        self.limit = self._fallen(now)

    def _fallen(self, now):
        """Give the limit as it is now: never more than it was."""
        limit, alone = self.limit, self._alone
        if alone is None and not self._lease.alive(now):
            alone = self._lease.ends
        if alone is not None:
            limit = min(limit, self._caps["fail_kmh"])
            if ticks_diff(now, ticks_add(alone, CREEP_AFTER_MS)) >= 0:
                limit = min(limit, self._caps["creep_kmh"])
        return min(limit, self._caps["stop_kmh"]) if self._lease.stop else limit

    def drive(self, now):
        """Move the cap towards the limit, no faster than the ramps; called by the watchdog alone."""
        moved, self._moved = self._moved, now
        limit = self._fallen(now)
        if moved is None or limit == self._cap:
            return
        if self._cap == 0 and not self._motor.pedal_released():
            return
        step_s = ticks_diff(now, moved) / 1000
        if limit < self._cap:
            self._cap = max(limit, self._cap - self._caps["fall_mps2"] * KMH_PER_MPS * step_s)
        else:
            self._cap = min(limit, self._cap + self._caps["rise_mps2"] * KMH_PER_MPS * step_s)
        self._motor.allow(self._cap)

    def changed(self):
        return self.limit != self._said

    def report(self):
        self._said = self.limit
        return {"limit_kmh": self.limit}


def parts(node):
    return [Limiter(node, kart) for kart in node.config["karts"]]


def main(arguments):
    hal.bench(config := configured(arguments))
    Node(config, parts).run()


if __name__ == "__main__":
    main(sys.argv[1:])
