"""One real node on the bench of the protocol's exploration: what can reach it, and what it does then.

The node is `signals.nodes.device.Device`, as shipped, from the bytes it is sent to the aspect or the
limit that comes of them; between two steps its memory is put back.

What can reach it is everything that controllers may ever have said. A controller is taken by what it
guarantees, and `tests/proof/test_running.py` holds the real one to it:

- its epoch never falls; beats, and orders on one topic, are numbered in the order they are said;
- the stop flag is the same throughout an epoch, and nothing permissive is said while it stands;
- an incarnation that is new to it ends what was permitted BEFORE it is addressed.

The bus guarantees nothing: all of it may arrive at any later time, again, out of order, or never.
Numbers are compared by the node, never counted; so only their order is kept, and neither the length
of a run, nor the stops in it, nor the messages under way, nor the lapses are bounded.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from functools import cache
from itertools import product
from typing import Any

import msgspec

from signals.mqtt.codec import encode
from signals.mqtt.contract import AspectCommand, Beat, CapsCommand, LimitCommand, Message
from signals.mqtt.link import Arrived
from signals.mqtt.topics import Topics
from signals.nodes.device import Device
from signals.nodes.limiter import CREEP_AFTER_MS
from signals.proof.protocol_books import (
    BEFORE,
    BOOTS,
    DRAWN,
    DUES,
    LIVING,
    NOW,
    PAST,
    Books,
    Due,
    Input,
)
from signals.venue.model import Node, Venue
from signals.words import Aspect, Because

NOW_MS = 1e6
"""The moment of every step: the past is moved instead."""
STOP_KMH, CREEP_KMH, HELD_KMH, FAIL_KMH, WIDE_KMH = 0.0, 5.0, 12.0, 15.0, 40.0
"""Of a kart: under a stop, creep, where nothing is permitted, caution, where green is due."""

_ASPECT = {"nothing": Aspect.DARK, BEFORE: Aspect.GREEN, NOW: Aspect.GREEN}
_KMH = {"nothing": HELD_KMH, BEFORE: WIDE_KMH, NOW: WIDE_KMH}


@dataclass(frozen=True, slots=True)
class Local:
    """A node's memory, its books, and what it shows: an aspect, or the limit it takes in km/h."""

    memory: Any
    books: Books
    shows: Aspect | float


class Bench:
    """A head (by id) or a kart (by number) of a venue, alone on its node.

    `lease_ticks` is how many ticks make its lease; a kart's three seconds are counted in the same ticks.

    Raises:
        ValueError: a tick would be no whole number of milliseconds, and ticks not add up to a lease.

    """

    def __init__(self, venue: Venue, subject: str | int, *, lease_ticks: int) -> None:
        node = _alone(venue, subject)
        if node.lease_ms % lease_ticks:
            raise ValueError(f"{lease_ticks} ticks do not make a lease of {node.lease_ms} ms; take a divisor")
        self.subject = subject
        self.lease_ticks = lease_ticks
        self.lease_ms = float(node.lease_ms)
        self.tick_ms = self.lease_ms / lease_ticks
        self.creep_ticks = -int(-CREEP_AFTER_MS // self.tick_ms)
        self._device = Device(node, venue, draw=lambda: DRAWN)
        self._topics = Topics.of(venue.id, simulated=venue.simulated)
        self._written = cache(self._write)
        self.fail = self._shows if isinstance(subject, str) else FAIL_KMH

    @property
    def is_kart(self) -> bool:
        """Whether it is a kart."""
        return isinstance(self.subject, int)

    @property
    def _shows(self) -> Aspect | float:
        organ: Any = self._device.organs[0]
        shows: Aspect | float = organ.taken_kmh if self.is_kart else organ.display.aspect
        return shows

    def boot(self) -> tuple[Any, Aspect | float]:
        """Boot the node: its memory then, and what it shows."""
        self._device.boot_up(NOW_MS)
        return self._device.memory, self._shows

    def step(self, memory: Any, event: Input) -> tuple[Any, Aspect | float]:
        """Let something happen to a node that remembers this: its memory after it, and what it shows."""
        self._device.memory = memory
        if event.what == "time":
            self._device.memory = _aged(memory, self.tick_ms)
            self._device.wake(NOW_MS)
        else:
            self._device.hear(self._written(event), NOW_MS)
        return self._device.memory, self._shows

    def _write(self, event: Input) -> Arrived:
        boot, epoch, seq, inc = BOOTS[event.boot], event.epoch, _wire_seq(event), event.inc
        message: Message
        if event.what == "beat":
            levels: tuple[str, ...] = ("beat",)
            message = Beat(boot=boot, seq=seq, epoch=epoch, stop=event.stop, test=False, at=0)
        elif event.what == "constants":
            levels = ("kart", str(self.subject), "caps")
            falls = {"stop_kmh": STOP_KMH, "fail_kmh": FAIL_KMH, "creep_kmh": CREEP_KMH}
            rest = {"fall_mps2": 2.0, "rise_mps2": 1.0, "reverse_kmh": 4.0, "boost_kmh": 5.0}
            message = CapsCommand(boot=boot, seq=seq, inc=inc, **falls, **rest)
        elif self.is_kart:
            levels = ("kart", str(self.subject), "limit")
            told: dict[str, Any] = {"limit_kmh": _KMH[event.due], "boosts": 0, "because": Because.CLASS}
            message = LimitCommand(boot=boot, seq=seq, epoch=epoch, inc=inc, **told)
        else:
            levels = ("head", str(self.subject), "aspect")
            message = AspectCommand(boot=boot, seq=seq, epoch=epoch, inc=inc, aspect=_ASPECT[event.due])
        return Arrived(self._topics.name(*levels), encode(message), retained=event.kept)


def offers(local: Local, *, boots: int, is_kart: bool) -> Iterator[Input]:
    """Give everything that can happen to a node: what fits what it knows of each boot."""
    yield Input("time")
    yield Input("reboot")
    for boot in range(boots):
        known = Known(local, boot)
        yield from known.beats()
        yield from known.orders()
        if is_kart:
            yield Input("constants", boot, seq=8, inc=LIVING)
            yield Input("constants", boot, seq=8, inc=PAST)


class Known:
    """What a node and its books know of one boot: an epoch and a number fit if they contradict none of it."""

    def __init__(self, local: Local, boot: int) -> None:
        lease, (organ,) = local.memory
        name = BOOTS[boot]
        self.boot = boot
        self.named = local.books.named
        newest = local.books.beats[boot]
        self._obeyed = lease.beat if lease.beat and lease.beat.boot == name else None
        self._beats = [beat for beat in (newest, self._obeyed) if beat]
        self._orders = [order for order in organ[0] if order.boot == name]
        self.beat_seqs = {beat.seq for beat in self._beats}
        self.beat_seqs |= {heard.seq for heard in lease.heard if heard.boot == name}
        self.order_seqs = {order.seq // 4 for order in self._orders} | {local.books.orders[boot]} - {0}
        self.epochs = {one.epoch for one in (*self._beats, *self._orders)}

    def beats(self) -> Iterator[Input]:
        """Give every beat that this boot may have sent; of those a broker may have kept, the latest."""
        places, known = _places(self.beat_seqs), self._obeyed
        for epoch, seq, stop in product(_places(self.epochs), places, (False, True)):
            if all(_agree(epoch, seq, beat.epoch, beat.seq) for beat in self._beats) and (
                known is None or known.epoch != epoch or known.stop == stop
            ):
                yield Input("beat", self.boot, epoch, seq, stop)
        yield Input("beat", self.boot, _places(self.epochs)[-1], places[-1], kept=True)

    def orders(self) -> Iterator[Input]:
        """Give every order that this boot may have sent; what is known already comes as it was.

        For a past incarnation the latest green will do: one that should be ignored can do no worse.
        """
        for order in self._orders:
            yield _again(order, self.boot)
        known, places = {order.seq // 4 for order in self._orders}, _places(self.order_seqs)
        for epoch, seq in product(_places(self.epochs), places):
            if seq not in known and all(_agree(epoch, seq, o.epoch, o.seq // 4) for o in self._orders):
                for due in DUES:
                    if due != BEFORE or not self.named:
                        yield Input("order", self.boot, epoch, seq, due=due)
                if seq == places[-1]:
                    yield Input("order", self.boot, epoch, seq, inc=PAST, due=BEFORE)


def obeyed(memory: Any) -> Any:
    """Give the order that what is shown comes from: the limiter says it; a head obeys the beat's boot."""
    lease, (organ,) = memory
    if _is_limiter(organ):
        return organ[2].obeyed
    return next((order for order in organ[0] if lease.beat and order.boot == lease.beat.boot), None)


def due_of(order: Any) -> Due:
    """Tell what an order said, and when it was permitted."""
    due: Due = DUES[order.seq % 4]
    return due


def alike(local: Local, bench: Bench, *, boots: int) -> tuple[Local, bool]:
    """Give the one state that stands for all that no decision can tell from this one.

    Also whether the two boots changed places in it.
    """
    local = _ranked(_forgetful(_newborn(local)), bench)
    if boots == 1:
        return local, False
    one, other = (_order_of(local, boot) for boot in range(len(BOOTS)))
    return (_swapped(local), True) if other < one else (local, False)


def _forgetful(local: Local) -> Local:
    """Forget an obeyed order that is not kept any more: it can only be obeyed again by arriving again."""
    lease, (organ,) = local.memory
    if not _is_limiter(organ) or organ[2].obeyed is None or organ[2].obeyed in organ[0]:
        return local
    return replace(local, memory=(lease, ((*organ[:2], replace(organ[2], obeyed=None)),)))


def _order_of(local: Local, boot: int) -> tuple[Any, ...]:
    """Give what the two boots are put in order by."""
    lease, books = local.memory[0], local.books
    beat = books.beats[boot]
    in_charge = lease.beat is not None and lease.beat.boot == BOOTS[boot]
    return books.ages[boot], not in_charge, (beat.seq, beat.epoch) if beat else (), books.orders[boot]


def _ranked(local: Local, bench: Bench) -> Local:
    """Let numbers and times be places in their order, as far as that matters."""
    known = [Known(local, boot) for boot in range(len(BOOTS))]
    epochs, beats, orders = (
        [_ranks(getattr(one, name)) for one in known] for name in ("epochs", "beat_seqs", "order_seqs")
    )
    lease, (organ,) = local.memory

    def of(name: str) -> int:
        return BOOTS.index(name)

    def told(order: Any) -> Any:
        if order is None:
            return None
        at = of(order.boot)
        seq = orders[at][order.seq // 4] * 4 + order.seq % 4
        return _changed(order, seq, epochs[at][order.epoch])

    beat = lease.beat and _changed(
        lease.beat, beats[of(lease.beat.boot)][lease.beat.seq], epochs[of(lease.beat.boot)][lease.beat.epoch]
    )
    heard = [
        replace(one, seq=beats[of(one.boot)][one.seq], at_ms=max(one.at_ms, NOW_MS - bench.lease_ms))
        for one in lease.heard
    ]
    lease = replace(
        lease,
        beat=beat,
        renewed_ms=lease.renewed_ms if beat else NOW_MS,
        echo=0,
        heard=tuple(sorted(heard, key=lambda one: one.boot)),
    )
    organ = (_sorted(map(told, organ[0])), *organ[1:])
    if _is_limiter(organ):
        now = organ[2]
        since_ms = now.alone_since_ms
        since_ms = None if since_ms is None else max(since_ms, NOW_MS - CREEP_AFTER_MS)
        known = now.falls.fail_kmh == FAIL_KMH  # constants: hearing them again changes nothing
        caps = () if known else _sorted(_changed(one, 4, None) for one in organ[1])
        organ = (organ[0], caps, replace(now, obeyed=told(now.obeyed), alone_since_ms=since_ms))
    newest = tuple(
        one and replace(one, seq=beats[at][one.seq], epoch=epochs[at][one.epoch])
        for at, one in enumerate(local.books.beats)
    )
    numbers = tuple(orders[at].get(seq, 0) for at, seq in enumerate(local.books.orders))
    books = replace(local.books, beats=newest, orders=numbers)
    return Local((lease, (organ,)), books, local.shows)


def _swapped(local: Local) -> Local:
    """Let each boot be the other: a node knows neither by name."""
    other = dict(zip(BOOTS, reversed(BOOTS), strict=True))

    def swapped(one: Any) -> Any:
        return one and _of_boot(one, other[one.boot])

    lease, (organ,) = local.memory
    heard = tuple(replace(one, boot=other[one.boot]) for one in reversed(lease.heard))
    lease = replace(lease, beat=swapped(lease.beat), heard=heard)
    organ = (_sorted(map(swapped, organ[0])), *organ[1:])
    if _is_limiter(organ):
        organ = (
            organ[0],
            _sorted(map(swapped, organ[1])),
            replace(organ[2], obeyed=swapped(organ[2].obeyed)),
        )
    books = local.books
    books = replace(books, ages=books.ages[::-1], beats=books.beats[::-1], orders=books.orders[::-1])
    return Local((lease, (organ,)), books, local.shows)


def _newborn(local: Local) -> Local:
    """Let what was the living incarnation be a past one, if another was drawn.

    Orders it kept for the one before go: they are no longer looked at, and may arrive again anyhow.
    """
    lease, (organ,) = local.memory
    if lease.inc != DRAWN:
        return local
    rest = ((), replace(organ[2], obeyed=None)) if _is_limiter(organ) else organ[1:]
    return replace(local, memory=(replace(lease, inc=LIVING), (((), *rest),)))


def stamped(memory: Any) -> Any:
    """Let whatever was permitted now have been permitted before: the node lives another life."""
    lease, (organ,) = memory

    def before(order: Any) -> Any:
        if order is None or due_of(order) != NOW:
            return order
        return _changed(order, order.seq - 1, order.epoch)

    organ = (tuple(map(before, organ[0])), *organ[1:])
    if _is_limiter(organ):
        organ = (*organ[:2], replace(organ[2], obeyed=before(organ[2].obeyed)))
    return lease, (organ,)


def _is_limiter(organ: Any) -> bool:
    return len(organ) > 2  # noqa: PLR2004 - a limiter remembers its constants and its obedience too


def _alone(venue: Venue, subject: str | int) -> Node:
    mine = next(node for node in venue.nodes if subject in (*node.heads, *node.karts))
    heads, karts = ((subject,), ()) if isinstance(subject, str) else ((), (subject,))
    return msgspec.structs.replace(mine, heads=heads, karts=karts, inputs=())


def _agree(epoch: int, seq: int, known_epoch: int, known_seq: int) -> bool:
    """Tell whether two messages of one topic and boot can both have been said."""
    if seq == known_seq:
        return epoch == known_epoch
    return (epoch - known_epoch) * (seq - known_seq) >= 0


def _again(order: Any, boot: int) -> Input:
    return Input("order", boot, order.epoch, order.seq // 4, inc=order.inc, due=due_of(order))


def _wire_seq(event: Input) -> int:
    """Give a message its number; an order's also tells what it is, for the books."""
    return event.seq * 4 + DUES.index(event.due) if event.what == "order" else event.seq


def _places(known: set[int]) -> range:
    return range(1, 2 * len(known) + 2)


def _ranks(known: set[int]) -> dict[int, int]:
    return {value: 2 * place for place, value in enumerate(sorted(known), 1)}


@cache
def _changed(message: Any, seq: int, epoch: int | None) -> Any:
    changes = {"seq": seq} if epoch is None else {"seq": seq, "epoch": epoch}
    return msgspec.structs.replace(message, **changes)


@cache
def _of_boot(message: Any, boot: str) -> Any:
    return msgspec.structs.replace(message, boot=boot)


def _sorted(orders: Iterable[Any]) -> tuple[Any, ...]:
    return tuple(sorted(orders, key=lambda order: str(order.boot)))


def _aged(memory: Any, by_ms: float) -> Any:
    """Let a memory be that much older."""
    lease, (organ,) = memory
    heard = tuple(replace(one, at_ms=one.at_ms - by_ms) for one in lease.heard)
    lease = replace(lease, heard=heard, renewed_ms=lease.renewed_ms - by_ms)
    if _is_limiter(organ) and organ[2].alone_since_ms is not None:
        organ = (*organ[:2], replace(organ[2], alone_since_ms=organ[2].alone_since_ms - by_ms))
    return lease, (organ,)
