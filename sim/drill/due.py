"""What to practise next: spaced repetition by the `fsrs` library, a card a drill.

A drill that went well comes again later, one that did not comes soon; forgetting is modelled by days
(FSRS 6, as the library ships it), without the minutes of its learning steps: nobody plays a drill six
times an hour. What is due longest for comes first, then what was never played, the easier first.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime

from fsrs import Card, Rating, Scheduler
from msgspec import Struct

from sim.drill.load import Drill
from sim.drill.score import Score
from sim.drill.trainees import Kept, Trainees

FULL, GOOD = 100.0, 92.0
"""Percent from which a run counts as easy, and as good; passed below that was hard."""
_SCHEDULER = Scheduler(learning_steps=(), relearning_steps=(), enable_fuzzing=False)
TOPICS = ("incident", "person", "kart", "session", "equipment", "watch")
"""In which order new drills are proposed, within a level."""


class Proposal(Struct, frozen=True, kw_only=True):
    """A drill that is proposed, and why. `recall` is the chance that it is still known, None where new."""

    drill: str
    why: str
    recall: float | None


def rating(score: Score) -> Rating:
    """Say how a run went, as the scheduler asks."""
    if not score.passed:
        return Rating.Again
    if score.percent >= FULL:
        return Rating.Easy
    return Rating.Good if score.percent >= GOOD else Rating.Hard


def review(trainees: Trainees, name: str, score: Score, at_ms: int) -> Kept:
    """Note a run, and when its drill is due again."""
    known = trainees.cards(name).get(score.drill)
    card = Card.from_json(known.card) if known is not None else Card(card_id=1, due=_at(at_ms))
    card, _ = _SCHEDULER.review_card(card, rating(score), _at(at_ms))
    kept = Kept(drill=score.drill, due_ms=round(card.due.timestamp() * 1000), card=card.to_json())
    trainees.keep(name, kept)
    return kept


def propose(trainees: Trainees, name: str, drills: Iterable[Drill], now_ms: int) -> list[Proposal]:
    """Give every drill in the order in which to practise."""
    known = trainees.cards(name)
    new = [drill for drill in drills if drill.name not in known]
    new.sort(key=lambda drill: (drill.file.level, TOPICS.index(drill.file.topic), drill.name))
    there = {drill.name for drill in drills}
    cards = sorted((kept for kept in known.values() if kept.drill in there), key=lambda kept: kept.due_ms)
    due = [_proposal(kept, now_ms) for kept in cards if kept.due_ms <= now_ms]
    later = [_proposal(kept, now_ms) for kept in cards if kept.due_ms > now_ms]
    fresh = [Proposal(drill=drill.name, why="new", recall=None) for drill in new]
    return [*due, *fresh, *later]


def _proposal(kept: Kept, now_ms: int) -> Proposal:
    recall = _SCHEDULER.get_card_retrievability(Card.from_json(kept.card), _at(now_ms))
    days = (kept.due_ms - now_ms) / 86_400_000
    why = "due" if days <= 0 else f"in {days:.0f} days" if days >= 1 else "tomorrow"
    return Proposal(drill=kept.drill, why=why, recall=round(recall, 3))


def _at(ms: int) -> datetime:
    return datetime.fromtimestamp(ms / 1000, UTC)
