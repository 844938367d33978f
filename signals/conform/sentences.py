"""The contract in numbered sentences: what a head, a kart or a post node must do, one requirement each.

`docs/integration.md` shows them, every case of the kit names those it checks, and a test wants each
one checked or said to be out of sight.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum


class Kind(StrEnum):
    """What a node is to the kit."""

    HEAD = "head"
    KART = "kart"
    POST = "post"


HEAD, KART, POST = frozenset({Kind.HEAD}), frozenset({Kind.KART}), frozenset({Kind.POST})
MOVING = HEAD | KART
EVERY = MOVING | POST

ANSWER_MS = 250
"""The longest time from an order, a stop, a lapse or a press to the report of what came of it."""
RECONNECT_S = 3
"""The longest time from a broker that is there again to a node's status on it."""
KEEPALIVE_S = 5
"""The longest keepalive: a frozen node's will is said after one and a half times as long."""


@dataclass(frozen=True, slots=True)
class Sentence:
    """One requirement. `unseen` says why nothing outside the node can tell, where that is so."""

    id: str
    who: frozenset[Kind]
    text: str
    unseen: str = ""


_TEXTS: tuple[tuple[frozenset[Kind], str, str], ...] = (
    # the connection
    (
        EVERY,
        "speaks MQTT 3.1.1 with a clean session and a keepalive of 1 to "
        f"{KEEPALIVE_S} s; its client id is its user's name, `node-<id>`, or that and a dot and more",
        "",
    ),
    (EVERY, 'leaves as its will `node/<id>/status` with status "gone", quality of service 1, retained', ""),
    (
        EVERY,
        "says `node/<id>/status` as soon as it is connected: ready, with its boot, its incarnation, its "
        "firmware, its heads and karts; quality of service 1, retained",
        "",
    ),
    (EVERY, "draws another boot whenever it starts", ""),
    (
        EVERY,
        "draws another incarnation whenever it starts and after every lapse of its lease, and says so in its "
        f"status within {ANSWER_MS} ms",
        "",
    ),
    (EVERY, "publishes on its own topics only", ""),
    (EVERY, "subscribes to `beat`, `monitor/trip` and its own topics only; never to `state`", ""),
    (
        EVERY,
        "keeps to the schemas in all it says: every field and no other, each of its type; `seq` rises by "
        "topic and boot",
        "",
    ),
    (
        EVERY,
        f"connects anew by itself, at the latest {RECONNECT_S} s after the broker is there again, and says "
        "its status anew",
        "",
    ),
    (
        EVERY,
        'leaves the status "gone" behind when it leaves in good order: by its own word before the '
        "DISCONNECT, or by its will without one",
        "",
    ),
    (
        EVERY,
        "sends each small message at once: TCP_NODELAY is set on its socket",
        "a slow answer may have other causes; the cases of the answer give the time, and 40 ms or more on a "
        "short cable is a hint",
    ),
    (
        EVERY,
        "draws boot and incarnation at random, of 4 to 16 small letters and digits: no counter, no clock",
        "a draw that differs once may still be a counter",
    ),
    # the lease
    (
        EVERY,
        "takes a beat as new if its `seq` is newer than every beat heard of that boot; late, doubled and "
        "retained beats renew nothing and are not echoed",
        "",
    ),
    (
        EVERY,
        "runs its lease on its own monotonic clock: `at` is never compared, and may be wrong or 0",
        "",
    ),
    (
        MOVING,
        "falls by itself when the lease ends: a head to its fail aspect, a kart to its caution limit; not "
        f"before, and at most {ANSWER_MS} ms later",
        "",
    ),
    (
        EVERY,
        "runs its watchdog outside the message loop: half a packet, a silent broker or a dead connection do "
        "not hold it up",
        "",
    ),
    (
        MOVING,
        "falls on a beat of a second boot within one lease, and obeys again once one boot has been alone for "
        "a whole lease",
        "",
    ),
    # orders
    (
        MOVING,
        "obeys an order only while its lease runs, and only of the boot and the epoch of the last new beat, "
        "addressed to the incarnation it has now",
        "",
    ),
    (
        MOVING,
        "obeys the newest such order by `seq`, the shorter way round: 1 comes after 2147483647",
        "",
    ),
    (MOVING, "does nothing anew on an order that comes twice", ""),
    (MOVING, "keeps an order that overtook its beat, and obeys it once the beat is there", ""),
    (MOVING, "takes a retained order for no more than a live one: the same conditions hold", ""),
    (
        MOVING,
        "shows nothing permissive after a lapse or a start until an order comes that is addressed to its new "
        "incarnation",
        "",
    ),
    (
        EVERY,
        "changes nothing on a malformed message and goes on; it counts it in `rejects`, with the reason in "
        "`last_reject`",
        "",
    ),
    (EVERY, "ignores fields it does not know", ""),
    (MOVING, "takes every message of up to 240 bytes with its topic", ""),
    (MOVING, f"answers an order within {ANSWER_MS} ms by its report", ""),
    (MOVING, "follows orders as fast as they come; of a burst the last one counts", ""),
    (MOVING, "acknowledges packet ids over the whole range: 1 comes after 65535", ""),
    (
        MOVING,
        "obeys the stop flag of any boot's beat at once: a head is red, a kart at most at its stop limit; "
        "silence does not end it",
        "",
    ),
    # reports
    (EVERY, "reports on every change and at least three times a lease", ""),
    (EVERY, "echoes the last new beat in `beat_seq`, 0 before the first", ""),
    (HEAD, "reports what it really shows, and tells a lamp that fails", ""),
    (HEAD, "is red by itself while the monitor's trip says tripped, and until it says otherwise", ""),
    (HEAD, "obeys `lamps` only while the beat says test", ""),
    (HEAD, "shows its fail aspect from the start until the first order that fits", ""),
    (KART, "is limited to 0 from the start until the first order that fits", ""),
    (
        KART,
        "is limited, without an order that fits, to `fail_kmh` at most and after 3 s to `creep_kmh` at most",
        "",
    ),
    (
        KART,
        "never raises its limit by itself, nor by loss, lapse, doubled or reordered messages: each order "
        "that fits raises it once",
        "",
    ),
    (KART, "keeps `caps` until its next start; until they came, caution and creep are 0", ""),
    (KART, "moves what it drives along the ramps of `caps` only", ""),
    (
        KART,
        "rises from 0 only once the pedal was released",
        "nothing on the network tells where a pedal is",
    ),
    (
        POST,
        f"reports a contact within {ANSWER_MS} ms of its change, with quality of service 1 and retained, and "
        "says all of them anew on a new connection",
        "",
    ),
    (POST, "reports a contact that is open where it may not be, or shorted, as fault; never as normal", ""),
    # the broker between
    (
        EVERY,
        "can publish nothing but its own topics: the broker's access list is in force for its user",
        "",
    ),
)

SENTENCES: Mapping[str, Sentence] = {
    f"C{number}": Sentence(f"C{number}", who, text, unseen)
    for number, (who, text, unseen) in enumerate(_TEXTS, start=1)
}
