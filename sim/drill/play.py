"""Play a drill: bring the venue to where it begins, let things happen, let seats answer, keep the tape.

    tape = play(cast(drill, venue, seed), venue, {"desk": Nobody()})

In virtual time it takes a second or two; `Performance` is the same on any loop, virtual or real.
"""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable, Iterable, Mapping
from contextlib import asynccontextmanager

import msgspec

from signals.caller import Caller
from signals.errors import Unusable
from signals.mqtt.contract import Inject
from signals.mqtt.topics import Topics
from signals.nodes.device import REPORTS_PER_LEASE
from signals.picture import main_post
from signals.sequence.events import KINDS, addressee
from signals.sequence.form import StartTable
from signals.sequence.prelude import bring_about
from signals.venue.model import Venue
from sim import demo
from sim.drill.asks import ASKS
from sim.drill.cast import Cast
from sim.drill.deeds import Deed, call_fields
from sim.drill.form import COLLEAGUE, DEVICE_BACK, DEVICE_DEAD, RADIO, DutyTable
from sim.drill.hearing import Hearing
from sim.drill.lookout import Lookout
from sim.drill.script import Script
from sim.drill.seat import Answerer, Eyes
from sim.drill.signs import exposed
from sim.drill.stage import DrillStage, paced
from sim.drill.tape import ACT, CUE, LIVE, MARK, OVER, Act, Cue, Head, Mark, Radio, Tape
from sim.drill.tape import RADIO as RADIO_TOPIC
from sim.track import Track

LOOK_S = 0.1
SETTLED_S = 1.5
"""After karts were put on the track: until every limiter has taken what it may drive."""
QUIET_S = 3.0
"""A drill ends before its time when all is over and nothing has stood for so long."""
BOX_MS = 1_500
"""How long somebody holds a call box's button."""
LEADS = "desk"


class Performance:
    """One performance of a drill on a stage that runs. `tape` is written as it goes.

    Attributes:
        began: called when the drill begins, after its preparation.
        cued: called with what the drill itself lets be heard or felt at the seats.
        ends: whether it is to end now, asked ten times a second.

    """

    def __init__(self, cast: Cast, stage: DrillStage, answerers: Mapping[str, Answerer], tape: Tape) -> None:
        venue = stage.venue
        self.tape = tape
        self.cast = cast
        self._stage = stage
        self._venue = venue
        self._answerers = answerers
        self.track = Track(venue)
        self.script = Script(cast, venue, self.track)
        self.hearing = Hearing(venue, stage.link, tape, whole=not tape.head.lean)
        self.hearing.refused = self._refused
        self.hearing.done = self._done
        topics = Topics.of(venue.id, simulated=venue.simulated)
        self._lead = Caller(topics, main_post(venue), stage.link, device="drill")
        self._callers = {post: Caller(topics, post, stage.link, device="seat") for post in answerers}
        others = {due.table.post for due in cast.due if due.table.post is not None}
        self._colleagues = {post: Caller(topics, post, stage.link, device="colleague") for post in others}
        posts = {post.id: post for post in venue.posts}
        self.eyes = {
            post: Eyes(venue, self.track, posts[post], Lookout(venue, self.track, posts[post]))
            for post in answerers
        }
        self.began: Callable[[], None] = _nothing
        self.cued: Callable[[Cue], None] = _unheard
        self.ends: Callable[[], bool] = _never
        self._asked: dict[str, Cue] = {}
        self._own: set[str] = set()
        """What was asked for at the seats: walking, a box."""
        self._live = 0
        self._calls: set[asyncio.Task[None]] = set()
        self._quiet_since_ms: int | None = None

    async def run(self) -> None:
        """Perform it from the prelude to its end.

        Raises:
            Unusable: the venue could not be brought to where the drill begins.

        """
        async with self._connected():
            await self.prepare()
            await self.perform()

    @asynccontextmanager
    async def _connected(self) -> AsyncIterator[None]:
        callers = (self._lead, *self._callers.values(), *self._colleagues.values())
        clients = [self.hearing.run(), *(caller.run() for caller in callers)]
        runs = [asyncio.ensure_future(client) for client in clients]
        try:
            await self.hearing.up.wait()
            for caller in callers:
                await caller.heard.wait()
            yield
        finally:
            for run in (*runs, *self._calls):
                run.cancel()
            await asyncio.gather(*runs, *self._calls, return_exceptions=True)

    async def prepare(self) -> None:
        """Bring about what the drill begins with."""
        timing = self._venue.timing
        heard_ms = max(timing.lease_head, timing.lease_kart) / REPORTS_PER_LEASE
        await asyncio.sleep((timing.settle + 2 * heard_ms) / 1000)
        wrong = await bring_about(_start(self.cast, self._venue), self._venue, self._lead)
        if wrong:
            busy = "a computer that is busy with something else comes too late; begin it again"
            raise Unusable(f"the drill cannot begin: {wrong} ({busy})")
        if self.cast.out:
            self._stage.world.spread(self.cast.out, self.cast.turn)
            await asyncio.sleep(max(SETTLED_S, timing.gap / 1000))

    async def perform(self) -> None:
        """Let happen what is due, and let every seat look, until it is over."""
        self.hearing.begin()
        self.began()
        while not self.finished():
            await self.look()
            await asyncio.sleep(LOOK_S)
        self.hearing.say(OVER, Radio(text=""))

    async def look(self) -> None:
        """Look once: what happens now, and what every seat does."""
        hearing = self.hearing
        for cue, inject in self.script.look(hearing.now_ms(), hearing.view, hearing.state):
            await self._happens(cue, inject)
        for post, answerer in self._answerers.items():
            eyes = self._see(post)
            for deed in list(answerer.look(eyes)):
                self._does(post, deed)

    def finished(self) -> bool:
        """Whether its time is over; or all is over, and has been quiet."""
        now_ms = self.hearing.now_ms()
        if self.ends():
            return True
        if now_ms >= self.cast.drill.file.lasts_s * 1000:
            return True
        if not (self.script.all_over and self._quiet()):
            self._quiet_since_ms = None
            return False
        self._quiet_since_ms = now_ms if self._quiet_since_ms is None else self._quiet_since_ms
        return now_ms - self._quiet_since_ms > QUIET_S * 1000

    def _quiet(self) -> bool:
        """Whether nothing stands, nobody is on the road, and the session is where it was to be brought."""
        state, duties = self.hearing.state, self.cast.drill.file.duty
        if state is None or state.holds or any(exposed(self.hearing.view, self.track)):
            return False
        goals = [duty.phase for duty in duties if duty.phase is not None]
        if goals and state.phase is not goals[-1]:
            return False
        return all(self._stepped(duty) for duty in duties if duty.call is not None and duty.of is None)

    def _stepped(self, duty: DutyTable) -> bool:
        """Whether a step was called as often as it is to be, by anybody here."""
        done = [word for post, word in self.hearing.accepted if post in self.eyes]
        return sum(word in (duty.call or ()) for word in done) >= duty.times

    def _see(self, post: str) -> Eyes:
        eyes, hearing = self.eyes[post], self.hearing
        eyes.now_s = hearing.now_ms() / 1000
        eyes.view = eyes.lookout.view(hearing.view)
        if eyes.device:
            eyes.state, eyes.group = hearing.state, hearing.group
        return eyes

    async def _happens(self, cue: Cue, inject: Inject | None) -> None:
        if cue.event == COLLEAGUE:
            self.hearing.say(CUE, cue)
            await self._colleagues[str(cue.post)].ask(_colleagues(cue))
        elif inject is None:
            self._said(cue)
            self.hearing.say(CUE, cue)
        elif KINDS[cue.event].addressee == "process":
            self.hearing.say(CUE, cue)
            await self._process(cue)
        else:
            self._asked[inject.id] = cue
            to = addressee(KINDS[cue.event], self._venue, head=cue.head, kart=cue.kart, wired=cue.input)
            self.hearing.ask(to, inject)

    def _said(self, cue: Cue) -> None:
        """Let an event of the drill itself be heard or felt at the seats."""
        self.cued(cue)
        for eyes in self.eyes.values():
            if cue.event == RADIO:
                eyes.radio.append(cue)
            elif cue.event in (DEVICE_DEAD, DEVICE_BACK):
                eyes.device = cue.event == DEVICE_BACK
        if cue.event == RADIO:
            self.hearing.say(RADIO_TOPIC, Radio(text=cue.said))

    async def _process(self, cue: Cue) -> None:
        name, _, what = cue.event.rpartition("-")
        await (self._stage.kill(name) if what == "killed" else self._stage.start(name))

    def _done(self, asked: str) -> None:
        cue = self._asked.pop(asked, None)
        inject = self.hearing.thrown.pop(asked, None)
        if cue is None and inject is not None and asked not in self._own:
            cue = self._thrown_in(inject)
        if cue is not None:
            self.hearing.say(CUE, cue)

    def _thrown_in(self, inject: Inject) -> Cue | None:
        """Note what an instructor lets happen: it is judged as what its sign asks for."""
        if inject.event not in ASKS:
            return None
        self._live += 1
        kart = next((each for each in self.hearing.view.karts if each.number == inject.kart), None)
        where = inject.where if kart is None or kart.in_pit else self.track.sector_at(kart.at_m)
        return Cue(id=f"{LIVE}{self._live}", event=inject.event, kart=inject.kart, where=where)

    def _refused(self, asked: str, _: str) -> None:
        """Try again what could not be: nobody was ahead, say."""
        cue = self._asked.pop(asked, None)
        if cue is not None:
            self.script.undo(cue.id)

    def _does(self, post: str, deed: Deed) -> None:
        if deed.call is not None:
            task = asyncio.ensure_future(self._call(post, deed))
            self._calls.add(task)
            task.add_done_callback(self._calls.discard)
        elif deed.seen is not None or deed.seen_kart is not None:
            self.hearing.say(MARK, Mark(post=post, where=deed.seen, kart=deed.seen_kart))
        else:
            self._acts(post, deed)

    async def _call(self, post: str, deed: Deed) -> None:
        eyes = self.eyes[post]
        answer = None
        if eyes.device:
            answer = await self._callers[post].ask({"call": deed.call, **call_fields(deed)})
        eyes.answers.append((eyes.now_s, deed, answer))

    def _acts(self, post: str, deed: Deed) -> None:
        """Do what is no call: walk, come back, press a box."""
        what = "walk" if deed.walk else "back" if deed.back else "box"
        self.hearing.say(ACT, Act(post=post, what=what, where=deed.walk, input=deed.box))
        asked = f"{what}-{self.hearing.now_ms()}"
        self._own.add(asked)
        if deed.box is not None:
            to = addressee(KINDS["input-active"], self._venue, head=None, kart=None, wired=deed.box)
            self.hearing.ask(to, Inject(id=asked, event="input-active", input=deed.box, for_ms=BOX_MS))
        elif deed.walk is not None:
            self.hearing.ask("world", Inject(id=asked, event="marshal-out", where=deed.walk))
        else:
            self.hearing.ask("world", Inject(id=asked, event="marshal-back"))


def _nothing() -> None:
    """Nobody wants to know."""


def _unheard(cue: Cue) -> None:
    del cue


def _never() -> bool:
    return False


def _colleagues(cue: Cue) -> dict[str, object]:
    """Give the fields of a colleague's call."""
    fields = {"call": cue.call, "where": cue.where, "kart": cue.kart, "kind": cue.kind}
    return {**{name: value for name, value in fields.items() if value is not None}, "reason": "seen there"}


def _start(cast: Cast, venue: Venue) -> StartTable:
    """Give what the prelude has to bring about."""
    classes = {kart.number: kart.class_ for kart in venue.karts}
    entries = [
        {"number": number, "driver": demo.driver(place), "class": classes[number]}
        for place, number in enumerate(cast.karts)
    ]
    start = cast.drill.file.start
    raw = {
        "venue": venue.id,
        "phase": start.phase,
        "group": entries,
        "out": list(cast.out),
        "post": main_post(venue),
    }
    return msgspec.convert(raw, StartTable)


def play(
    cast: Cast,
    venue: Venue,
    answerers: Mapping[str, Answerer],
    *,
    lean: bool = True,
    compiled: bool = False,
    who: Iterable[str] = (),
) -> Tape:
    """Play a drill in virtual time; gives its tape. `compiled` is quicker where many are played."""
    import async_solipsism  # noqa: PLC0415 - only where time is virtual

    names = dict(zip(answerers, who, strict=False))
    here = paced(venue, gap=cast.drill.file.start.gap, lean=lean)

    async def whole() -> Tape:
        head = Head(
            drill=cast.drill.name,
            venue=venue.id,
            seed=cast.seed,
            seats={post: names.get(post, "") for post in answerers},
            lean=lean,
        )
        tape = Tape(head)
        async with DrillStage(here, seed=cast.seed, lean=lean, compiled=compiled) as stage:
            await Performance(cast, stage, answerers, tape).run()
        return tape

    with asyncio.Runner(loop_factory=async_solipsism.EventLoop) as runner:
        return runner.run(whole())
