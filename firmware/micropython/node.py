"""What every node does: connect, introduce itself, listen, report, and run a watchdog beside all that."""

import json
import select
from time import sleep_ms, ticks_add, ticks_diff, ticks_ms

import hal
from lease import SEQ_MAX, Lease, draw
from wire import Wire

KEEPALIVE_S = 3
PING_MS = 1000
RETRY_MS = 300
POLL_MS = 5
WATCH_MS = 20
REPORTS_PER_LEASE = 4
MOST_BYTES = 240
REASON_MAX = 200


class Wrong(ValueError):
    """A message that cannot be taken; nothing has changed."""


def _word(low, high):
    def check(value):
        return (
            type(value) is str
            and low <= len(value) <= high
            and all("a" <= sign <= "z" or "0" <= sign <= "9" for sign in value)
        )

    return check


def whole(low, high):
    return lambda value: type(value) is int and low <= value <= high


def number(low, high):
    return lambda value: type(value) in (int, float) and low <= value <= high


def flag(value):
    return value is True or value is False


BOOT, INC, SEQ, COUNT = _word(4, 16), _word(0, 16), whole(1, SEQ_MAX), whole(0, SEQ_MAX)
BEAT = {"boot": BOOT, "seq": SEQ, "epoch": COUNT, "stop": flag, "test": flag, "at": lambda v: type(v) is int}
TRIP = {"tripped": flag}


def read(payload, fields):
    """Read a message: the fields it must have, each checked; fields beside them are ignored."""
    try:
        made = json.loads(payload.decode())
    except (ValueError, UnicodeError):
        raise Wrong("not JSON in UTF-8")
    if type(made) is not dict:
        raise Wrong("not one object")
    for name, fits in fields.items():
        if name not in made:
            raise Wrong("no field " + name)
        if not fits(made[name]):
            raise Wrong(name + " is not as it must be")
    return made


class Node:
    """One node with what hangs on it.

    A part has `orders` and `says` (ends of topics), `take`, `settle`, `drive`, `changed`, `report`.
    """

    def __init__(self, config, make_parts):
        self.config = config
        self.root = config["root"]
        self.lease = Lease(config["lease_ms"])
        self.boot = draw()
        self.parts = make_parts(self)
        self.rejects = 0
        self.last_reject = None
        self._said = None
        self._seqs = dict.fromkeys(self.parts, 0)
        self._report_at = self._ping_at = ticks_ms()
        self._wire = None

    def topic(self, *levels):
        return (self.root + "/" + "/".join(levels)).encode()

    def run(self):
        """Serve for ever. The watchdog is a timer: it goes on while this waits, connects or is stuck."""
        watch = hal.Timer(WATCH_MS, self.watch)
        while True:
            try:
                self._connect()
                while True:
                    self._serve()
            except OSError as lost:
                hal.log("lost the broker: %s" % lost)
            except Exception as wrong:  # a refused connection is no OSError in umqtt
                hal.log("cannot serve: %r" % wrong)
            self._wire.close()
            sleep_ms(RETRY_MS)
        watch.stop()

    def watch(self):
        """Drive what is due now. Idempotent, so that it may come at any moment, however often."""
        now = ticks_ms()
        for part in self.parts:
            part.drive(now)

    def _connect(self):
        known = self.config
        name = "node-" + known["node"]
        self._wire = Wire(
            name,
            known["host"],
            known["port"],
            known.get("user", name),
            known.get("password", ""),
            KEEPALIVE_S,
            known["lease_ms"] / 1000,
        )
        status = self.topic("node", known["node"], "status")
        self._wire.set_last_will(status, json.dumps(self._status("gone")), retain=True, qos=1)
        self._wire.connect()
        self._said = None
        self._act(ticks_ms(), reporting=True)
        self._wire.subscribe(self.topic("beat"), 0)
        self._wire.subscribe(self.topic("monitor", "trip"), 1)
        for part in self.parts:
            for levels in part.orders:
                self._wire.subscribe(self.topic(*levels), 1)
        self._poll = select.poll()
        self._poll.register(self._wire.sock, select.POLLIN)

    def _serve(self):
        if self._poll.poll(POLL_MS):
            self._wire.check_msg()
        inbox, self._wire.inbox = self._wire.inbox, []
        for topic, payload, retained in inbox:
            now = ticks_ms()
            self._act(now, reporting=False)
            try:
                self._take(topic, payload, retained, now)
            except Wrong as why:
                self.rejects += 1
                self.last_reject = ("%s: %s" % (topic.decode()[len(self.root) + 1 :], why))[:REASON_MAX]
            self._act(now, reporting=False)
        now = ticks_ms()
        self._act(now, reporting=ticks_diff(now, self._report_at) >= 0)
        if ticks_diff(now, self._ping_at) >= 0:
            self._ping_at = ticks_add(now, PING_MS)
            self._wire.ping()

    def _take(self, topic, payload, retained, now):
        if len(topic) + len(payload) > MOST_BYTES:
            raise Wrong("more than %d bytes with its topic" % MOST_BYTES)
        levels = topic.decode()[len(self.root) + 1 :].split("/")
        if levels == ["beat"]:
            if retained:
                raise Wrong("a retained beat is old")
            beat = read(payload, BEAT)
            self.lease.hear(beat["boot"], beat["seq"], beat["epoch"], beat["stop"], beat["test"], now)
        elif levels == ["monitor", "trip"]:
            tripped = read(payload, TRIP)["tripped"]
            for part in self.parts:
                part.tripped = tripped
        else:
            for part in self.parts:
                if tuple(levels) in part.orders:
                    part.take(levels[-1], payload)

    def _act(self, now, reporting):
        """Let time pass, settle what is due, and say what there is to say."""
        self.lease.pass_time(now)
        changed = []
        for part in self.parts:
            part.settle(now)
            if part.changed():
                changed.append(part)
        self._introduce(reporting)
        if reporting:
            self._report_at = ticks_add(now, self.lease.ms // REPORTS_PER_LEASE)
        for part in self.parts if reporting else changed:
            self._seqs[part] = seq = self._seqs[part] % SEQ_MAX + 1
            said = {"boot": self.boot, "seq": seq, "beat_seq": self.lease.echo}
            said.update(part.report())
            self._wire.publish(self.topic(*part.says), json.dumps(said))

    def _introduce(self, reporting):
        status, said = self._status("ready"), self._said
        if said is None or status["inc"] != said["inc"] or (reporting and status != said):
            self._said = status
            self._wire.publish(
                self.topic("node", self.config["node"], "status"), json.dumps(status), retain=True, qos=1
            )

    def _status(self, word):
        return {
            "status": word,
            "boot": self.boot,
            "inc": self.lease.inc,
            "firmware": "micropython",
            "heads": list(self.config.get("heads", {})),
            "karts": self.config.get("karts", []),
            "rejects": self.rejects,
            "last_reject": self.last_reject,
        }


def configured(arguments):
    """Read the node's file; `key=value` arguments override what stands in it."""
    with open(arguments[0]) as file:
        config = json.load(file)
    for each in arguments[1:]:
        key, _, value = each.partition("=")
        config[key] = int(value) if key == "port" else value
    return config
