"""A signal head. `micropython head.py NODE.json`; on a board: `import head; head.main(["node.json"])`."""

import sys
from time import ticks_diff

import hal
from lease import Orders
from node import BOOT, COUNT, INC, SEQ, Node, Wrong, configured, read

ORDER = {"boot": BOOT, "seq": SEQ, "epoch": COUNT, "inc": INC, "aspect": lambda value: type(value) is str}
LAMPS_MAX = 3


class Head:
    """One head: which lamps are due, by the sentences of docs/integration.md."""

    def __init__(self, node, name, made):
        self.name = name
        self.aspects = made["aspects"]
        self.fail = made["fail"]
        self.tripped = False
        self.orders = (("head", name, "aspect"),)
        self.says = ("head", name, "shown")
        self.after_ms = 0
        self._lease = node.lease
        self._orders = Orders(node.lease)
        self._shown = None
        self._said = None
        self._cause = None
        self._lamps = hal.Lamps(name)

    def take(self, what, payload):
        order = read(payload, ORDER)
        if order["aspect"] not in self.aspects:
            raise Wrong("no aspect " + order["aspect"])
        lamps = order.get("lamps")
        if lamps is not None and not self._has(lamps):
            raise Wrong("lamps it does not have")
        self._orders.take(order)

    def _has(self, lamps):
        known = [lamp for each in self.aspects.values() for lamp in each]
        return type(lamps) is list and len(lamps) <= LAMPS_MAX and all(lamp in known for lamp in lamps)

    def due(self, now):
        """Decide what to show: (aspect, lamps)."""
        order = self._orders.current(now)
        beat = self._lease.beat
        if self._lease.stop or self.tripped:
            return "red", self.aspects["red"]
        if order is None or beat is None:
            return self.fail, self.aspects[self.fail]
        if order.get("lamps") is not None and beat[2]:
            return order["aspect"], order["lamps"]
        return order["aspect"], self.aspects[order["aspect"]]

    def drive(self, now):
        """Light what is due; the watchdog calls it at any moment, also in the middle of `settle`."""
        due = self.due(now)
        if due != self._shown:
            over = self._lease.beat is not None and not self._lease.alive(now)
            self.after_ms = max(0, ticks_diff(now, self._lease.ends)) if over else 0
            self._lamps.light(due[1])
            self._shown = due

    def settle(self, now):
        self.drive(now)
        self._lamps.refresh()

    def changed(self):
        return (self._shown, self._lamps.proven()) != self._said

    def report(self):
        aspect, lamps = self._shown
        proven = self._lamps.proven()
        self._said = (self._shown, proven)
        return {"after_ms": self.after_ms, "aspect": aspect, "driven": lamps, "proven": proven}


def parts(node):
    return [Head(node, name, made) for name, made in node.config["heads"].items()]


def main(arguments):
    hal.bench(config := configured(arguments))
    Node(config, parts).run()


if __name__ == "__main__":
    main(sys.argv[1:])
