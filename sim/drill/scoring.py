"""`score`: a tape judged for one seat."""

from __future__ import annotations

from signals import say
from signals.venue.model import Venue
from sim.drill.cast import Cast
from sim.drill.facts import Facts, Sighting, facts, sightings
from sim.drill.harm import GRACE_MS, deductions, false_alarms, is_ours, safety
from sim.drill.judge import Found, Judge, nevers
from sim.drill.lookout import Lookout
from sim.drill.matter import letter_of
from sim.drill.score import PASSED, TRACK_ROW, Deciding, Line, Mark, Score, Seeing
from sim.drill.stats import detection, quantile, wilson
from sim.drill.tape import LIVE, Tape

NOISE_MS = 10_000
"""A quiet stretch of so long counts as one chance for a false alarm."""


def score(tape: Tape, cast: Cast, venue: Venue, seat: str, known: Facts | None = None) -> Score:
    """Judge a tape for one seat; `known` saves decoding it again for the next."""
    known = known or facts(tape, venue)
    post = next(each for each in venue.posts if each.id == seat)
    seen = sightings(known, Lookout(venue, known.track, post))
    judge = Judge(cast, known, post, seen)
    found = judge.duties()
    every = [*found.lines, *nevers(judge), *deductions(judge)]
    got, of = sum(line.got for line in every), sum(line.of for line in every)
    percent = round(max(0.0, got) / of * 100, 1) if of else 0.0
    return Score(
        drill=cast.drill.name,
        title=cast.drill.file.title,
        venue=venue.id,
        seed=cast.seed,
        seat=seat,
        who=tape.head.seats.get(seat, ""),
        got=round(got, 2),
        of=round(of, 2),
        percent=percent,
        passed=percent >= PASSED * 100 and not any(line.grave for line in every),
        lines=tuple(every),
        seeing=seeing(judge, found),
        deciding=deciding(judge, found),
        safety=safety(judge),
        timeline=tuple(sorted((*timeline(judge, every), *found.due), key=lambda mark: mark.at_ms)),
        lasted_s=round(known.ends_ms / 1000, 1),
    )


def _signs(judge: Judge) -> list[Sighting]:
    """Give what this seat could see and had to answer."""
    answered = {duty.of for duty in judge.cast.drill.file.duty if duty.call is not None}
    return [
        each
        for each in judge.seen.values()
        if each.cue.sign
        and (each.cue.id in answered or each.cue.id.startswith(LIVE))
        and each.seen_ms is not None
        and (each.cue.where is None or is_ours(judge, each.cue.where))
    ]


def seeing(judge: Judge, found: Found) -> Seeing:
    """Count hits, misses and false alarms, and how long it took to notice."""
    signs = _signs(judge)
    hits = len({spell.of for spell in found.detected} & {each.cue.id for each in signs})
    starts_ms = _quiet(judge)
    alarms = [touch.at_ms for touch in false_alarms(judge)]
    false = sum(any(start <= at < start + NOISE_MS for at in alarms) for start in starts_ms)
    d_prime, criterion = detection(hits, len(signs), false, len(starts_ms))
    low, high = wilson(hits, len(signs))
    took = [spell.took_s for spell in found.detected]
    return Seeing(
        signals=len(signs),
        hits=hits,
        noise=len(starts_ms),
        false_alarms=false,
        detected=tuple(found.detected),
        median_s=quantile(took, 0.5),
        p90_s=quantile(took, 0.9),
        d_prime=round(d_prime, 3),
        criterion=round(criterion, 3),
        hit_low=round(low, 3),
        hit_high=round(high, 3),
    )


def _quiet(judge: Judge) -> list[int]:
    """Cut the time in which nothing was there into stretches; gives when each begins."""
    signs = [each for each in judge.seen.values() if each.cue.sign]
    starts_ms, at_ms = [], 0
    while at_ms + NOISE_MS <= judge.known.ends_ms:
        busy = [each for each in signs if any(each.lasts(at, GRACE_MS) for at in (at_ms, at_ms + NOISE_MS))]
        busy += [each for each in signs if at_ms <= each.at_ms <= at_ms + NOISE_MS]
        if not busy:
            starts_ms.append(at_ms)
            at_ms += NOISE_MS
        else:
            at_ms += NOISE_MS // 10
    return starts_ms


def deciding(judge: Judge, found: Found) -> Deciding:
    """Count right calls, and how long they took."""
    took = [spell.took_s for spell in found.called]
    return Deciding(
        called=tuple(found.called),
        median_s=quantile(took, 0.5),
        p90_s=quantile(took, 0.9),
        in_time=sum(spell.took_s <= spell.target_s for spell in found.called),
        right=found.right,
        duties=found.asked,
        refused=sum(touch.accepted is False for touch in judge.own),
        premature=found.premature,
        overlong_s=round(found.overlong_s, 1),
    )


def timeline(judge: Judge, every: list[Line]) -> list[Mark]:
    """Put what happened, what was called and what would have been better on one line of time."""
    marks: list[Mark] = []
    for sighting in judge.seen.values():
        row, what = sighting.cue.where or TRACK_ROW, judge.what(sighting)
        said = sighting.cue.said or what
        marks.append(Mark(at_ms=sighting.at_ms, kind="happened", row=row, text=said, letter="!"))
        if sighting.over_ms is not None and sighting.over_ms > sighting.at_ms:
            marks.append(Mark(at_ms=sighting.over_ms, kind="over", row=row, text=f"Over: {what}"))
    for touch in judge.known.touches:
        row = touch.where or TRACK_ROW
        kind = {"call": "called", "seen": "seen"}.get(touch.what, "did")
        who = say.capital(say.post_name(judge.known.venue, touch.post))
        text = f"{who}: {judge.called(touch) if kind == 'called' else judge.did(touch)}"
        letter = letter_of(touch.word) if touch.word else ""
        marks.append(
            Mark(at_ms=touch.at_ms, kind=kind, row=row, text=text, letter=letter, good=touch.accepted)
        )
    marks.extend(
        Mark(at_ms=line.at_ms, kind="better", row=TRACK_ROW, text=line.better, good=False)
        for line in every
        if line.better and line.at_ms is not None
    )
    return marks
