"""The node protocol, explored whole: controllers, a bus that promises nothing, and one real node.

    report = explore_protocol(venue)
    report.held, report.states, report.steps, report.breaches[0].way

Breadth first over what a node remembers and what is known of it, so that a way to a breach is a
shortest one. The node is the shipped code, what reaches it is everything that controllers may ever
have said (`protocol_node` says what that is), what must hold is written apart (`protocol_books`).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from time import perf_counter
from typing import Any

from msgspec import Struct

from signals.proof.protocol_books import BOOTS, LIVING, NOW, PROPERTIES, Input, Scale, is_new, width
from signals.proof.protocol_node import (
    CREEP_KMH,
    STOP_KMH,
    WIDE_KMH,
    Bench,
    Local,
    alike,
    due_of,
    obeyed,
    offers,
    stamped,
)
from signals.venue.model import Venue
from signals.words import Aspect


class Bounds(Struct, frozen=True):
    """What is bounded: ticks of a lease, boots of controllers alive at once, and which nodes are looked at.

    Everything within one tick happens at one moment, in every order. Runs, stops, lapses, reboots and
    messages under way are not bounded.
    """

    head_ticks: int = 2
    head_boots: int = 2
    kart_ticks: int = 1
    kart_boots: int = 1
    each_fail_aspect: bool = False


QUICK = Bounds()
NIGHT = Bounds(head_ticks=4, kart_boots=2, each_fail_aspect=True)


class Breach(Struct, frozen=True):
    """A broken property of one node, with a shortest way there."""

    name: str
    subject: str
    way: tuple[str, ...]


class Explored(Struct, frozen=True):
    """What came of one node's exploration; `depth` is the steps to the farthest state."""

    subject: str
    boots: int
    states: int
    steps: int
    depth: int
    seconds: float


class Report(Struct, frozen=True):
    """What came of it all."""

    held: bool
    states: int
    steps: int
    bounds: Bounds
    properties: dict[str, str]
    nodes: list[Explored]
    breaches: list[Breach]


def explore_protocol(
    venue: Venue,
    bounds: Bounds = QUICK,
    *,
    subjects: tuple[str | int, ...] | None = None,
    seek: str | None = None,
) -> Report:
    """Explore the nodes of these heads (ids) and karts (numbers) of a venue, each alone.

    Without `subjects`: the first head (or one of each fail aspect) and the first kart; the others run
    the same code. A node's exploration ends at its first breach; with `seek`, at one of that property.
    """
    nodes: list[Explored] = []
    breaches: list[Breach] = []
    for subject in subjects or _chosen(venue, bounds):
        head = isinstance(subject, str)
        bench = Bench(venue, subject, lease_ticks=bounds.head_ticks if head else bounds.kart_ticks)
        exploration = _Exploration(bench, bounds.head_boots if head else bounds.kart_boots, seek)
        nodes.append(exploration.run())
        breaches += exploration.breaches
    states, steps = sum(node.states for node in nodes), sum(node.steps for node in nodes)
    return Report(not breaches, states, steps, bounds, PROPERTIES, nodes, breaches)


def _chosen(venue: Venue, bounds: Bounds) -> tuple[str | int, ...]:
    fails = {venue.choices.fail_aspect[head.role]: head.id for head in reversed(venue.heads)}
    heads = tuple(fails.values()) if bounds.each_fail_aspect else (venue.heads[0].id,)
    return (*heads, venue.karts[0].number)


@dataclass(slots=True)
class _Exploration:
    """One bench, explored to the end or to a breach."""

    bench: Bench
    boots: int
    seek: str | None
    breaches: list[Breach] = field(default_factory=list)
    _steps: int = 0
    _came: dict[Local, tuple[Local, Input, bool] | None] = field(default_factory=dict)
    _reactions: dict[tuple[Any, Input], tuple[Any, Aspect | float]] = field(default_factory=dict)

    @property
    def _scale(self) -> Scale:
        return Scale(self.bench.lease_ticks, self.bench.creep_ticks if self.bench.is_kart else 0)

    def run(self) -> Explored:
        """Explore."""
        began_s, depth = perf_counter(), 0
        memory, shows = self.bench.boot()
        start, _ = alike(Local(memory, self._scale.booted(), shows), self.bench, boots=self.boots)
        self._came[start] = None
        frontier = [start]
        self._judge(start, self._broken(start))
        while frontier and not self._found:
            frontier = [new for local in frontier for new in self._visit(local)]
            depth += bool(frontier)
        seconds = round(perf_counter() - began_s, 2)
        return Explored(self.subject, self.boots, len(self._came), self._steps, depth, seconds)

    @property
    def _found(self) -> bool:
        return any(self.seek in (None, breach.name) for breach in self.breaches)

    @property
    def subject(self) -> str:
        """What is explored, in a word."""
        return f"{'kart' if self.bench.is_kart else 'head'} {self.bench.subject}"

    def _visit(self, local: Local) -> Iterator[Local]:
        """Let everything happen that can, and give the states that are new."""
        for event in offers(local, boots=self.boots, is_kart=self.bench.is_kart):
            self._steps += 1
            after, swapped = self._after(local, event)
            self._judge(local, self._widened(local, event, after), event)
            if after not in self._came:
                self._came[after] = (local, event, swapped)
                self._judge(after, self._broken(after))
                yield after

    def _after(self, local: Local, event: Input) -> tuple[Local, bool]:
        books, ended = self._scale.after(local.books, event)
        if event.what == "reboot":
            memory, shows = self.bench.boot()
        else:
            memory, shows = self._react(local.memory, event)
        if not ended and memory == local.memory and books == local.books:
            return local, False
        if ended:
            memory = stamped(memory)
            books = books.born(named=memory[0].inc != LIVING)
        return alike(Local(memory, books, shows), self.bench, boots=self.boots)

    def _react(self, memory: Any, event: Input) -> tuple[Any, Aspect | float]:
        """Ask the node, once for each memory and event."""
        key = (memory, event)
        if key not in self._reactions:
            self._reactions[key] = self.bench.step(memory, event)
        return self._reactions[key]

    # -- what must hold --

    def _broken(self, local: Local) -> Iterator[str]:
        """Name what does not hold in a state."""
        books, shows, scale = local.books, local.shows, self._scale
        if width(shows) > width(self.bench.fail):
            if sum(age < scale.lease for age in books.ages) > 1:
                yield "N2"
            if books.lease == scale.lease:
                yield "N3"
        if isinstance(shows, float) and books.silent == scale.creep and shows > CREEP_KMH:
            yield "N3"
        if books.stop and shows not in (Aspect.RED, STOP_KMH):
            yield "stop"
        if shows in (Aspect.GREEN, WIDE_KMH):
            order = obeyed(local.memory)
            beat = order and books.beats[BOOTS.index(order.boot)]
            if order is None or (beat and order.epoch < beat.epoch):
                yield "N1"
            if order is None or due_of(order) != NOW:
                yield "N4"

    def _widened(self, before: Local, event: Input, after: Local) -> Iterator[str]:
        """N5: more is allowed only by something new, and by the newest order, for this very life."""
        floor = 0 if self.bench.is_kart else width(Aspect.YELLOW_FLASH)
        if width(after.shows) > max(width(before.shows), floor):
            order = obeyed(after.memory)
            newest = order is not None and order.inc == LIVING
            newest = newest and order.seq // 4 == after.books.orders[BOOTS.index(order.boot)]
            if not newest or not is_new(before.books, event):
                yield "N5"

    def _judge(self, local: Local, names: Iterator[str], last: Input | None = None) -> None:
        """Note the first breach of each property, with the way to it."""
        for name in names:
            if name not in {breach.name for breach in self.breaches}:
                self.breaches.append(Breach(name, self.subject, tuple(self._way(local, last))))

    def _way(self, local: Local, last: Input | None) -> list[str]:
        """Tell the steps to a state, and one more; the boots keep their names though they change places."""
        way, here = [], local
        while came := self._came[here]:
            way.append(came)
            here = came[0]
        names, told = "AB", []
        for before, event, swapped in reversed(way):
            told.append(told_of(before, event, names))
            names = names[::-1] if swapped else names
        return [*told, told_of(local, last, names)] if last else told


def told_of(local: Local, event: Input, names: str) -> str:
    """Say what happens to a node in this state, for a trace."""
    if event.what == "time":
        return "a tick of time passes"
    if event.what == "reboot":
        return "the node boots anew"
    who = f"{names[event.boot]}'s"
    age = "new" if is_new(local.books, event) else "late or doubled"
    if event.what == "beat":
        newest = local.books.beats[event.boot]
        epoch = _placed(event.epoch, newest.epoch if newest else None, "the newest beat heard")
        kept = " as a copy the broker kept" if event.kept else ""
        return f"{who} beat{', stop' if event.stop else ''} ({age}{epoch}){kept}"
    to = "this incarnation" if event.inc == LIVING else "a past incarnation"
    if event.what == "constants":
        return f"{who} constants for {to}"
    beat = local.memory[0].beat
    own = beat.epoch if beat and beat.boot == BOOTS[event.boot] else None
    return f"{who} order for {to}: {event.due} ({age}{_placed(event.epoch, own, 'the beat obeyed')})"


def _placed(epoch: int, known: int | None, of: str) -> str:
    if known is None:
        return ""
    when = "the epoch" if epoch == known else "an earlier epoch" if epoch < known else "a later epoch"
    return f", of {when} {'of' if epoch == known else 'than'} {of}"
