"""What a tape tells: what happened, when it could be seen, who did what, how the track stood. No judging."""

from __future__ import annotations

import bisect
from collections.abc import Iterator
from dataclasses import dataclass, field

from signals.mqtt.contract import Answer, Call, State, WorldFinding, WorldView
from signals.venue.model import Venue
from signals.words import Condition, Word
from sim.drill.lookout import Lookout
from sim.drill.signs import exposed, of_world, over, spot
from sim.drill.tape import ACT, CUE, MARK, Act, Cue, Mark, Tape
from sim.track import Track

SOON_MS = 400
"""A thing that has just happened shows in the next views."""
HELD = frozenset({Condition.STOP, Condition.CAUTION})


@dataclass(slots=True)
class Sighting:
    """Something that happened, as a seat could see it. Times in ms; None: never."""

    cue: Cue
    at_ms: int
    seen_ms: int | None = None
    over_ms: int | None = None
    places: set[str] = field(default_factory=set)
    """Every sector it was in."""

    def lasts(self, at_ms: int, grace_ms: int = 0) -> bool:
        """Whether it is there at a time, or was a moment ago."""
        return self.at_ms <= at_ms and (self.over_ms is None or at_ms <= self.over_ms + grace_ms)


@dataclass(frozen=True, slots=True)
class Touch:
    """Something somebody did. `word` None: no call. `accepted` None: no answer."""

    at_ms: int
    post: str
    what: str
    """"call", "seen", "walk", "back" or "box"."""
    word: Word | None = None
    where: str | None = None
    kart: int | None = None
    input: str | None = None
    call: Call | None = None
    accepted: bool | None = None
    rules: tuple[str, ...] = ()
    said: tuple[str, ...] = ()


@dataclass(slots=True)
class Facts:
    """All of a tape, decoded once."""

    venue: Venue
    track: Track
    tape: Tape
    ends_ms: int
    views: list[tuple[int, WorldView]]
    states: list[tuple[int, State]]
    cues: list[tuple[int, Cue]]
    touches: list[Touch]
    findings: list[tuple[int, WorldFinding]]

    def state_at(self, at_ms: int) -> State | None:
        """Give the controller's picture at a time."""
        index = bisect.bisect_right(self.states, at_ms, key=lambda each: each[0])
        return self.states[index - 1][1] if index else None

    def condition(self, sector: str, at_ms: int) -> Condition:
        """Give what a sector asks of drivers at a time."""
        state = self.state_at(at_ms)
        return state.sectors.get(sector, Condition.CLEAR) if state else Condition.CLEAR

    def held(self, sector: str | None, at_ms: int) -> bool:
        """Whether red or yellow stands in a sector; None: anywhere."""
        state = self.state_at(at_ms)
        if state is None:
            return False
        return bool(state.holds) if sector is None else self.condition(sector, at_ms) in HELD

    def first_free(self, sector: str | None, from_ms: int) -> int | None:
        """Give when nothing stands any more in a sector (None: anywhere), from a time on."""
        if not self.held(sector, from_ms):
            return from_ms
        later = (at_ms for at_ms, _ in self.states if at_ms > from_ms)
        return next((at_ms for at_ms in later if not self.held(sector, at_ms)), None)

    def stood(self, sector: str | None, from_ms: int, to_ms: int) -> bool:
        """Whether red or yellow stood there at some time between."""
        times = [from_ms, *(at_ms for at_ms, _ in self.states if from_ms < at_ms <= to_ms)]
        return any(self.held(sector, at_ms) for at_ms in times)

    def view_at(self, at_ms: int) -> WorldView | None:
        """Give the world at a time."""
        index = bisect.bisect_right(self.views, at_ms, key=lambda each: each[0])
        return self.views[index - 1][1] if index else None

    def is_at(self, cue: Cue, sector: str, at_ms: int) -> bool:
        """Whether something, or somebody on the road, is in a sector at a time."""
        view = self.view_at(at_ms)
        if view is None:
            return False
        here = spot(cue, view, self.track)
        on_road = {where for _, where in exposed(view, self.track)}
        return sector in on_road or (here is not None and here.sector == sector)

    def exposed(self) -> Iterator[tuple[int, str, str]]:
        """Give who is where karts drive, view by view: time, who (with the kart he belongs to), sector."""
        for at_ms, view in self.views:
            for person, sector in exposed(view, self.track):
                yield at_ms, f"{person.who} {person.kart or ''}".strip(), sector


def facts(tape: Tape, venue: Venue) -> Facts:
    """Decode a tape."""
    views = [(at_ms, view) for at_ms, _, view in tape.of("world", WorldView)]
    return Facts(
        venue=venue,
        track=Track(venue),
        tape=tape,
        ends_ms=tape.ends_ms,
        views=views,
        states=[(at_ms, state) for at_ms, _, state in tape.of("state", State)],
        cues=[(at_ms, cue) for at_ms, _, cue in tape.of(CUE, Cue)],
        touches=sorted(_touches(tape), key=lambda touch: touch.at_ms),
        findings=list(_findings(views)),
    )


def sightings(known: Facts, lookout: Lookout) -> dict[str, Sighting]:
    """Give everything that happened, by its id, as seen from a post."""
    found = {cue.id: Sighting(cue, at_ms) for at_ms, cue in known.cues}
    for sighting in found.values():
        if of_world(sighting.cue):
            _watch(sighting, known, lookout)
        else:
            sighting.seen_ms = sighting.at_ms
            until_ms = sighting.cue.until_ms
            sighting.over_ms = sighting.at_ms if until_ms is None else until_ms
        if sighting.cue.where is not None:
            sighting.places.add(sighting.cue.where)
    return found


def _watch(sighting: Sighting, known: Facts, lookout: Lookout) -> None:
    """Follow something through the views: when it is first seen from the post, and when it is over."""
    for at_ms, view in known.views:
        if at_ms < sighting.at_ms:
            continue
        here = spot(sighting.cue, view, known.track)
        if here is not None:
            sighting.places.add(here.sector)
            if sighting.seen_ms is None and lookout.sees(here):
                sighting.seen_ms = at_ms
        settled = at_ms > sighting.at_ms + SOON_MS
        if settled and over(sighting.cue, sighting.at_ms, at_ms, view, known.state_at(at_ms), known.track):
            sighting.over_ms = at_ms
            return


def _touches(tape: Tape) -> Iterator[Touch]:
    answers = {answer.id: answer for _, _, answer in tape.of("answer/", Answer)}
    for at_ms, post, call in tape.of("call/", Call):
        yield _called(at_ms, post, call, answers.get(call.id))
    for at_ms, _, mark in tape.of(MARK, Mark):
        yield Touch(at_ms, mark.post, "seen", where=mark.where, kart=mark.kart)
    for at_ms, _, act in tape.of(ACT, Act):
        yield Touch(at_ms, act.post, act.what, where=act.where, input=act.input)


def _called(at_ms: int, post: str, call: Call, answer: Answer | None) -> Touch:
    where = call.where if isinstance(call.where, str) else None
    if isinstance(call.hold, str) and call.hold.startswith("caution:"):
        where = call.hold.split(":")[1]
    return Touch(
        at_ms,
        post,
        "call",
        word=call.call,
        where=where,
        kart=call.kart if isinstance(call.kart, int) else None,
        call=call,
        accepted=None if answer is None else answer.accepted,
        rules=() if answer is None else tuple(refused.rule for refused in answer.refusals),
        said=() if answer is None else tuple(refused.sentence for refused in answer.refusals),
    )


def _findings(views: list[tuple[int, WorldView]]) -> Iterator[tuple[int, WorldFinding]]:
    """Give what the referee saw, each once, when it was first told."""
    seen: set[int] = set()
    began_ms = views[0][1].at_ms if views else 0
    for at_ms, view in views:
        for finding in view.seen:
            if finding.id not in seen and finding.at_ms >= began_ms:
                seen.add(finding.id)
                yield at_ms, finding
