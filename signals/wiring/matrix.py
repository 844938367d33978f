"""The cause-and-effect matrix: for every cause, what each head then shows, and after how long at most.

Nothing in it is typed in. Calls, alarms and a restart are played to the controller's own core, on a
venue where everybody races under green; a lost beat to the node's own rules; lamp failures to the
monitor's own table; what a device left alone shows follows from the table's fail states.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

from msgspec import Struct

from signals.core.state import Event, State
from signals.monitor.patience import RED_MISSING_S
from signals.monitor.table import less
from signals.mqtt.codec import encode
from signals.mqtt.contract import AspectCommand, Beat
from signals.nodes.head import HeadLogic
from signals.nodes.lease import Lease
from signals.outputs.base import POLL_MS
from signals.outputs.contact import PROVE_MS as CONTACT_MS
from signals.outputs.lamps import PROVE_MS
from signals.supervise.child import Recipe
from signals.supervise.supervisor import AGAIN_AFTER_S
from signals.venue.model import Head, Venue
from signals.venue.wires import Wire
from signals.wiring.lint import aspect_of
from signals.wiring.played import BOOT, Played
from signals.words import Aspect, Word

Kind = Literal["call", "input", "communication", "lamp", "restart", "power"]
INC = "node"
RESTARTED_MS = round(1000 * (AGAIN_AFTER_S + Recipe(name="", argv=(), log=None).ready_s))  # type: ignore[arg-type]
"""`kerblight run` brings a controller back within so long, or gives up."""


class Cell(Struct, frozen=True):
    """What a head shows after a cause, and within how many ms; None: nothing tells it ever."""

    shows: str
    within_ms: int | None

    def __str__(self) -> str:
        if self.within_ms is None:
            return self.shows
        return f"{self.shows} ≤ {self.within_ms} ms" if self.within_ms else f"{self.shows} at once"


class Row(Struct, frozen=True):
    """One cause, and its cell for every head."""

    kind: Kind
    cause: str
    cells: dict[str, Cell]


class Matrix(Struct, frozen=True):
    """The whole matrix; `outputs` are the refs of each head's lamps, the columns' own columns."""

    venue: str
    digest: str
    outputs: dict[str, list[str]]
    rows: list[Row]


def matrix(venue: Venue) -> Matrix:
    """Work the matrix out for the heads of the wiring table."""
    wired = {wire.place for wire in venue.wires if wire.direction == "out"}
    heads = [head for head in venue.heads if head.id in wired]
    refs = {
        head.id: [wire.ref for wire in venue.wires if wire.place == head.id and wire.direction == "out"]
        for head in heads
    }
    made = _Making(venue, heads)
    return Matrix(venue.name, venue.digest, refs, list(made.rows()))


class _Making:
    """A venue under green, to which causes are done one at a time."""

    def __init__(self, venue: Venue, heads: list[Head]) -> None:
        self._venue = venue
        self._heads = heads
        self._played = Played(venue)
        self._follow_ms = venue.timing.follow
        self._noticed_ms = venue.timing.settle + venue.timing.follow
        self._lease_ms = {node.id: node.lease_ms for node in venue.nodes}

    def rows(self) -> Iterator[Row]:
        """Give every row, by kind of cause."""
        yield from self._calls()
        yield from self._inputs()
        yield from self._communication()
        yield from self._lamps()
        restarted = self._played.after("restart")
        yield self._all("restart", "the controller restarts", restarted, RESTARTED_MS)
        yield from self._power()

    def _all(self, kind: Kind, cause: str, state: State, within_ms: int) -> Row:
        shown = self._played.shown(state)
        return Row(kind, cause, {head.id: Cell(shown[head.id], within_ms) for head in self._heads})

    def _calls(self) -> Iterator[Row]:
        played = self._played

        def row(cause: str, state: State) -> Row:
            return self._all("call", cause, state, self._follow_ms)

        yield row("closed, nobody on the track", played.closed)
        yield row("armed", played.armed)
        yield row("start", played.racing)
        for sector in self._venue.sectors:
            yield row(f"caution in {sector.name}", played.after(Word.CAUTION, where=sector.id))
        stopped = played.after(Word.STOP)
        yield row("stop", stopped)
        lift = Event(Word.LIFT, fields={"hold": f"stop:{played.post}", "checked": True})
        recovery = played.play(stopped, lift)
        yield row("the last stop is lifted", recovery)
        yield row("clear", played.play(recovery, Event(Word.CLEAR, fields={"checked": True})))
        yield row("finish", played.after(Word.FINISH))

    def _inputs(self) -> Iterator[Row]:
        prove = {wire.place: wire.prove_ms or CONTACT_MS for wire in self._venue.wires}
        for each in self._venue.inputs:
            if each.id in prove:
                active = self._played.after("input-active", input=each.id)
                yield self._all("input", f"{each.id} pressed or open", active, POLL_MS + self._follow_ms)
                fault = self._played.after("input-fault", input=each.id)
                within_ms = POLL_MS + prove[each.id] + self._follow_ms
                yield self._all("input", f"{each.id} cut or shorted", fault, within_ms)
                silent_ms = self._lease_ms[each.node] + self._follow_ms
                yield self._all("input", f"{each.id}'s device silent", fault, silent_ms)

    def _communication(self) -> Iterator[Row]:
        """Let beats stop, and see what heads do by themselves; let writes stop, and see what devices do."""
        alone = {head.id: Cell(fallen(self._venue, head), self._lease_ms[head.node]) for head in self._heads}
        yield Row("communication", "no beat reaches the head's node", alone)
        cut = {head.id: left_alone(self._venue, head) for head in self._heads}
        yield Row("communication", "the head's device is cut off", cut)
        monitor = self._played.after("monitor-lost")
        yield self._all("communication", "the conflict monitor is silent", monitor, self._noticed_ms)

    def _lamps(self) -> Iterator[Row]:
        """Let a lamp stay dark while it is due, and see what monitor and controller make of it."""
        played = self._played
        lost = {head.id: self._lost(head) for head in self._heads}
        tripped = played.shown(played.after("monitor-tripped"))
        names = sorted({lamp for head in self._heads for lamps in head.aspects.values() for lamp in lamps})
        for lamp in names:
            cells = {
                head.id: self._failed(head, lamp, lost[head.id], tripped[head.id])
                for head in self._heads
                if any(lamp in lamps for lamps in head.aspects.values())
            }
            yield Row("lamp", f"{lamp} stays dark while due", cells)

    def _lost(self, head: Head) -> Aspect:
        return self._played.shown(self._played.after("head-lost", head=head.id))[head.id]

    def _failed(self, head: Head, lamp: str, lost: Aspect, tripped: Aspect) -> Cell:
        wire = next((wire for wire in outs_of(self._venue, head) if wire.aspect == lamp), None)
        if wire is None or wire.feedback_ref is None:
            return Cell("not seen (no sensor)", None)
        due = next(aspect for aspect, lamps in head.aspects.items() if lamps == (lamp,))
        prove_ms = wire.prove_ms or PROVE_MS
        if not less(Aspect.DARK, due):
            return Cell(lost, prove_ms + self._noticed_ms)
        trip_ms = round(RED_MISSING_S * 1000) if due is Aspect.RED else self._venue.timing.monitor_trip
        dead = " (its red is dark)" if lamp in head.aspects[tripped] else ""
        return Cell(f"{tripped}{dead}", prove_ms + trip_ms + self._follow_ms)

    def _power(self) -> Iterator[Row]:
        """Take the current away: a device lets go of everything, a lamp is dark."""
        let_go = {head.id: Cell(self._let_go(head), 0) for head in self._heads}
        yield Row("power", "the head's device has no power", let_go)
        yield Row("power", "its lamps have no power", {head.id: Cell(Aspect.DARK, 0) for head in self._heads})

    def _let_go(self, head: Head) -> Aspect:
        return aspect_of(head, frozenset(wire.aspect for wire in outs_of(self._venue, head) if wire.invert))


def fallen(venue: Venue, head: Head) -> Aspect:
    """Give what a head shows when no beat reaches it: green by the node's own rules, and the lease past."""
    lease_ms = next(node.lease_ms for node in venue.nodes if node.id == head.node)
    lease = Lease(lease_ms, lambda: INC)
    logic = HeadLogic(head, lease, venue.choices.fail_aspect)
    lease.hear(Beat(boot=BOOT, seq=1, epoch=0, stop=False, test=False, at=0), 0.0)
    green = AspectCommand(boot=BOOT, seq=1, epoch=0, inc=INC, aspect=Aspect.GREEN)
    logic.hear("aspect", encode(green))
    logic.settle(0.0, 0.0)
    if logic.display.aspect is not Aspect.GREEN:
        raise RuntimeError(f"{head.id} does not obey a green that it must obey")
    over_ms = float(lease.lease_ms)
    lease.pass_time(over_ms)
    logic.settle(over_ms, over_ms)
    return logic.display.aspect


def left_alone(venue: Venue, head: Head) -> Cell:
    """Give what the wires of a head make of a device that nobody writes to."""
    wires = outs_of(venue, head)
    shows = aspect_of(head, frozenset(wire.aspect for wire in wires if wire.fail_state == "on"))
    watchdogs = [wire.watchdog_ms for wire in wires]
    if all(watchdogs):
        return Cell(shows, max(ms or 0 for ms in watchdogs))
    return Cell("stays as it is (no watchdog)", None)


def outs_of(venue: Venue, head: Head) -> list[Wire]:
    """Give the wires that drive a head's lamps."""
    return [wire for wire in venue.wires if wire.place == head.id and wire.direction == "out"]
