"""The causes of the cause-and-effect run: how each is brought about, and what every head must then show.

What is due comes from the controller's own core, played without a wire (`signals.wiring.played`); what a
head left alone shows from the node's own rules. With a verdict that stands, causes are done to a venue
where everybody may race under green; before one, to the closed venue, and what needs a race is left out.
Only what simulated equipment can be asked for is brought about here: a real plug is pulled by hand.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from msgspec import Struct

from signals.core.state import Event, State
from signals.monitor.patience import RED_MISSING_S
from signals.opening.rows import head_mark, mark_of
from signals.venue.model import Head, Node, Venue
from signals.wiring.matrix import RESTARTED_MS, Cell, fallen
from signals.wiring.matrix import Kind as CauseKind
from signals.wiring.played import Base, Played
from signals.words import Aspect, Word

STEADY_BEATS = 2
"""What silence brings about is looked at with every beat; the last one heard may be a beat old."""
BACK_MS = 3_000
"""A node that has power again boots, connects, and is addressed within so long (typical, no source)."""
RECONNECTED_MS = RESTARTED_MS
"""The same for everybody after the broker was gone, its own start included."""
TRIPPED_MS = round(1000 * RED_MISSING_S)

Does = dict[str, Any]
"""A step of a sequence that does something: a call, or an event."""


class Cause(Struct, frozen=True):
    """One cause: the steps that bring it about, the last being it, and a cell for every head that tells."""

    id: str
    kind: CauseKind
    says: str
    does: tuple[Does, ...]
    cells: dict[str, Cell]
    proves: tuple[Does, ...] = ()
    """Steps that show what heads alone cannot: that a call is refused because the monitor has tripped."""


class Script(Struct, frozen=True):
    """Causes that follow one another in one sequence file, from `phase` on."""

    name: str
    title: str
    phase: str
    causes: tuple[Cause, ...]
    kills: tuple[str, ...] = ()
    """Processes it ends and does not bring back."""


def scripts_of(venue: Venue, base: Base) -> tuple[Script, ...]:
    """Give every script for a venue under a base."""
    return tuple(_Writing(venue, base).scripts())


def marks_of(venue: Venue) -> dict[str, str]:
    """Give the causes that must have been tried before opening, with a digest of what they depend on."""
    mark = mark_of(
        [head_mark(venue, head) for head in venue.heads],
        [(sector.id, sector.approach) for sector in venue.sectors],
        [venue.inputs, venue.timing, venue.choices],
    )
    return {cause.id: mark for script in scripts_of(venue, "closed") for cause in script.causes}


class _Writing:
    """Writes the scripts of one venue."""

    def __init__(self, venue: Venue, base: Base) -> None:
        self._venue = venue
        self._base = base
        self._played = Played(venue, base)
        self._post = self._played.post
        self._simulated = {node.id: node for node in venue.nodes if node.simulated}
        timing = venue.timing
        self._follow_ms = timing.follow
        self._noticed_ms = timing.settle + STEADY_BEATS * timing.beat + timing.follow

    def scripts(self) -> Iterator[Script]:
        """Give the calls first, then what disturbs less, then what ends processes."""
        calls = self._race() if self._base == "racing" else self._calls()
        phase = "ready" if self._base == "racing" else "closed"
        yield Script("calls", "Calls and their lights", phase, tuple(calls))
        yield from self._inputs()
        yield from self._silent()
        yield from self._lamps()
        yield from self._power()
        yield from self._processes()

    # --- calls

    def _race(self) -> Iterator[Cause]:
        played = self._played
        yield self._call("armed", "ready", played.armed, Word.ARM)
        yield self._call("start", "start", played.racing, Word.START)
        yield from self._calls()
        finishing = played.after(Word.FINISH)
        yield self._call("finish", "chequered", finishing, Word.FINISH)
        closed = played.play(finishing, Event(Word.CLOSE))
        yield self._call("close", "closed, nobody on the track", closed, Word.CLOSE)

    def _calls(self) -> Iterator[Cause]:
        """Give what can be called in the base: each yellow, red, its lift, clear."""
        played = self._played
        lifts: tuple[Does, ...] = ()
        for sector in self._venue.sectors:
            state = played.after(Word.CAUTION, where=sector.id)
            says = f"yellow in {sector.name}"
            does = (*lifts, self._does(Word.CAUTION, where=sector.id))
            yield self._cause(f"caution/{sector.id}", "call", says, does, state, self._follow_ms)
            lifts = (self._does(Word.LIFT, hold=f"caution:{sector.id}:{self._post}", checked=True),)
        yield self._cause("lifted", "call", "the last yellow is lifted", lifts, played.begun, self._follow_ms)
        stopped = played.after(Word.STOP)
        yield self._call("stop", "red", stopped, Word.STOP)
        hold = {"hold": f"stop:{self._post}", "checked": True}
        recovery = played.play(stopped, Event(Word.LIFT, fields=hold))
        yield self._call("recovery", "red is lifted", recovery, Word.LIFT, **hold)
        clear = played.play(recovery, Event(Word.CLEAR, fields={"checked": True}))
        yield self._call("clear", "clear", clear, Word.CLEAR, checked=True)

    # --- equipment

    def _inputs(self) -> Iterator[Script]:
        for each in self._venue.inputs:
            if each.node not in self._simulated:
                continue
            for event, says in (("active", "pressed or open"), ("fault", "cut or shorted")):
                state = self._played.after(f"input-{event}", input=each.id)
                does = ({"event": f"input-{event}", "input": each.id},)
                name = f"{each.id}/{event}"
                cause = self._cause(name, "input", f"{each.id} {says}", does, state, self._follow_ms)
                yield self._alone(name, cause)

    def _silent(self) -> Iterator[Script]:
        """Let each node with heads fall silent."""
        for node in self._with_heads():
            says = f"nothing reaches {node.id} ({', '.join(node.heads)})"
            does = ({"event": "head-lost", "head": node.heads[0]},)
            within_ms = node.lease_ms + STEADY_BEATS * self._venue.timing.beat + self._follow_ms
            lost = self._lost(*node.heads)
            name = f"{node.id}/silent"
            yield self._alone(name, self._cause(name, "communication", says, does, lost, within_ms, node))

    def _power(self) -> Iterator[Script]:
        """Let each node with heads lose its power, and get it back."""
        for node in self._with_heads():
            does = ({"event": "reboot", "head": node.heads[0]},)
            state = self._back(self._lost(*node.heads), node)
            name = f"{node.id}/power"
            says = f"{node.id} has power again"
            yield self._alone(name, self._cause(name, "power", says, does, state, BACK_MS))

    def _with_heads(self) -> Iterator[Node]:
        return (node for node in self._simulated.values() if node.heads)

    def _lamps(self) -> Iterator[Script]:
        """Let each head stay dark, green being due, and red being due."""
        for head in self._venue.heads:
            if head.node not in self._simulated:
                continue
            dark = {"event": "wrong-lamp", "head": head.id, "aspect": Aspect.DARK}
            if self._base == "racing":
                cause = self._lamp(head, "green", (dark,), self._lost(head.id), self._noticed_ms)
                yield self._alone(cause.id, cause)
            yield self._dark_red(head, dark)

    def _dark_red(self, head: Head, dark: Does) -> Script:
        """Let red stay dark: the monitor trips, which every lift is then refused for."""
        played = self._played
        stopped = played.play(played.closed, Event(Word.STOP))
        state = played.play(stopped, Event("monitor-tripped"))
        does = (self._does(Word.STOP), dark)
        lift = self._does(Word.LIFT, hold=f"stop:{self._post}", checked=True, rules=["monitor-tripped"])
        proof = {"after_ms": TRIPPED_MS + self._follow_ms, **lift}
        cause = self._lamp(head, "red", does, state, self._follow_ms, proof)
        return Script(cause.id.replace("/", "-"), cause.says, "closed", (cause,))

    def _lamp(
        self, head: Head, due: str, does: tuple[Does, ...], state: State, within_ms: int, *proves: Does
    ) -> Cause:
        says = f"{head.id} stays dark, {due} being due"
        cause = self._cause(f"{head.id}/dark-{due}", "lamp", says, does, state, within_ms, proves=proves)
        return Cause(
            cause.id, "lamp", says, does, {k: v for k, v in cause.cells.items() if k != head.id}, proves
        )

    # --- processes

    def _processes(self) -> Iterator[Script]:
        """Let the monitor, the broker and the controller die: everybody falls by himself."""
        monitor = self._cause(
            "monitor/silent",
            "communication",
            "the conflict monitor is silent",
            ({"event": "monitor-killed"},),
            self._played.after("monitor-lost"),
            self._noticed_ms,
        )
        yield Script("monitor", monitor.says, self._phase, (monitor,), ("monitor",))
        yield Script("broker", "the broker is gone, and back", self._phase, (self._broker(),))
        yield Script("controller", "the controller dies, and is back", self._phase, tuple(self._controller()))

    def _broker(self) -> Cause:
        """Take the broker away for longer than every lease; the controller comes back stopped."""
        away_ms = max(self._venue.timing.lease_controller, self._venue.timing.lease_head) + 500
        does = ({"event": "broker-killed"}, {"event": "broker-back", "after_ms": away_ms})
        state = self._played.after("broker-lost")
        says = "the broker is gone, and back"
        return self._cause("broker/back", "communication", says, does, state, RECONNECTED_MS)

    def _controller(self) -> Iterator[Cause]:
        venue, beat_ms = self._venue, self._venue.timing.beat
        lease_ms = {node.id: node.lease_ms for node in venue.nodes}
        cells = {head.id: Cell(fallen(venue, head), lease_ms[head.node] + beat_ms) for head in venue.heads}
        killed: Does = {"event": "controller-killed"}
        yield Cause("controller/silent", "communication", "no beat reaches any head", (killed,), cells)
        state = self._played.after("restart")
        does = ({"event": "controller-back"},)
        yield self._cause(
            "controller/restart", "restart", "the controller restarts", does, state, RESTARTED_MS
        )

    # --- writing

    @property
    def _phase(self) -> str:
        return self._base

    def _alone(self, name: str, cause: Cause) -> Script:
        return Script(name.replace("/", "-"), cause.says, self._phase, (cause,))

    def _call(self, id_: str, says: str, state: State, word: Word, **fields: Any) -> Cause:
        return self._cause(id_, "call", says, (self._does(word, **fields),), state, self._follow_ms)

    def _does(self, word: Word, **fields: Any) -> Does:
        return {"call": word, "post": self._post, **fields}

    def _cause(
        self,
        id_: str,
        kind: CauseKind,
        says: str,
        does: tuple[Does, ...],
        state: State,
        within_ms: int,
        silent: Node | None = None,
        *,
        proves: Iterable[Does] = (),
    ) -> Cause:
        """Make a cause with a cell for every head but those of a node that says nothing meanwhile."""
        mute = silent.heads if silent else ()
        shown = self._played.shown(state)
        cells = {head: Cell(aspect, within_ms) for head, aspect in shown.items() if head not in mute}
        return Cause(id_, kind, says, does, cells, tuple(proves))

    def _lost(self, *heads: str) -> State:
        events = (Event("head-lost", fields={"head": head}) for head in heads)
        return self._played.play(self._played.begun, *events)

    def _back(self, lost: State, node: Node) -> State:
        return self._played.play(lost, *(Event("head-back", fields={"head": head}) for head in node.heads))
