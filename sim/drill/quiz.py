"""The signal quiz: what each signal asks of a driver here, and which call fits which sight.

Every answer follows from the venue: its limits, its finish signal, how karts slow at the end. Wrong answers
are right ones of other questions, so that nothing on the page is nonsense.
"""

from __future__ import annotations

from collections.abc import Sequence

from msgspec import Struct

from signals import say
from signals.venue.model import Venue
from signals.words import Aspect, HoldKind, Word
from sim.chance import Purpose, uniform
from sim.drill.asks import ASKS, Asks

OPTIONS = 4
DRAWS = 1_000
"""Numbers set apart for each question."""
PICK, MIX = -6, -7
"""What a number is drawn for, in the place of a kart's number."""
SIGHTS = {
    "medical": "A driver hangs over the side of the kart and does not move.",
    "smoke": "Smoke comes from a kart that rolls to the edge.",
    "overturned": "A kart lies on its side.",
    "driver-out": "A driver climbs out and walks across the road.",
    "wrong-way": "A kart comes towards the others.",
    "contact": "Two karts have collided and stand.",
    "barrier-moved": "Tyres of the wall stand in the road.",
    "spin": "A kart has spun and stands across the road; its driver looks for reverse.",
    "stall": "A kart rolls to the edge and stands.",
    "hand-raised": "A driver stands with one arm up.",
    "child-in-tears": "A child has stopped, both hands at the face.",
    "debris": "A piece of bodywork lies on the line.",
    "wet-patch": "Water shines on the line.",
    "loose-clothing": "A scarf flaps behind a driver.",
    "kart-enters": "A kart rolls out of the pit that nobody let out.",
    "shortcut": "A driver cuts the inside of a bend, beyond the white line.",
}
"""What is seen, in words."""
SLOWER = "A slow kart has had somebody close behind it for half a lap."


class Question(Struct, frozen=True, kw_only=True):
    """One question: `right` is the number of the right option, from 0."""

    text: str
    options: tuple[str, ...]
    right: int
    why: str
    aspect: Aspect | None = None
    """The signal that it is about, to be shown."""


class Answered(Struct, frozen=True, kw_only=True):
    """What came of a quiz."""

    asked: int
    right: int
    questions: tuple[Question, ...]
    given: tuple[int, ...]
    """Options by number, from 0."""


class _Card(Struct, frozen=True):
    """A question before its wrong answers are drawn; they are right answers of the same suit."""

    suit: str
    text: str
    answer: str
    why: str
    aspect: Aspect | None = None


def quiz(venue: Venue, seed: int, count: int) -> list[Question]:
    """Draw questions, each at most once; fewer where the venue gives no more."""
    cards = deck(venue)
    order = sorted(range(len(cards)), key=lambda number: uniform(seed, PICK, Purpose.DRILL, number))
    return [_question(cards, number, seed) for number in order[:count]]


def judged(questions: Sequence[Question], given: Sequence[int]) -> Answered:
    """Count right answers."""
    right = sum(question.right == answer for question, answer in zip(questions, given, strict=True))
    return Answered(asked=len(questions), right=right, questions=tuple(questions), given=tuple(given))


def _question(cards: Sequence[_Card], number: int, seed: int) -> Question:
    card = cards[number]
    known = sorted({each.answer for each in cards if each.suit == card.suit} - {card.answer})
    dice = {
        answer: uniform(seed, MIX, Purpose.DRILL, number * DRAWS + place)
        for place, answer in enumerate(known)
    }
    options = [*sorted(known, key=dice.__getitem__)[: OPTIONS - 1], card.answer]
    turn = int(uniform(seed, MIX, Purpose.DRILL, number * DRAWS + DRAWS - 1) * len(options))
    options = options[turn:] + options[:turn]
    return Question(
        text=card.text,
        options=tuple(options),
        right=options.index(card.answer),
        why=card.why,
        aspect=card.aspect,
    )


def deck(venue: Venue) -> list[_Card]:
    """Give every question of a venue."""
    return [*_signals(venue), *_sights(), *_limits(venue)]


def _signals(venue: Venue) -> list[_Card]:
    limits, choices = venue.limits, venue.choices
    stop = (
        "Stop where you are and stay seated."
        if limits.stop == 0
        else f"Drive to the pit at no more than {limits.stop:g} km/h."
    )
    finish = (
        "The session is over: slow down at once and come in."
        if choices.finish_slow == "all-at-once"
        else "The session is over: drive to the line, then slow down and come in."
    )
    asked = {
        Aspect.RED: (stop, "Red is for everybody, everywhere."),
        Aspect.YELLOW_FLASH: (
            f"No more than {limits.caution:g} km/h and no passing: something or somebody is in the way.",
            "Yellow ends at the next head that shows something else.",
        ),
        choices.finish_aspect: (finish, "How karts slow at the end is this venue's choice."),
        Aspect.NUMBER: (
            f"The kart with this number is out: it comes in at no more than {limits.disqualified:g} km/h.",
            "A number on black is for one driver alone.",
        ),
        Aspect.BLUE_FLASH: (
            "The kart with this number lets the faster one behind it pass.",
            "Blue is for the slower kart, never for the faster one.",
        ),
        Aspect.GREEN: ("Drive on: nobody has seen anything in the way.", "Green is the only signal to go."),
        Aspect.DARK: (
            f"Trust nothing: drive as under yellow, no more than {limits.caution:g} km/h.",
            "Dark never means clear.",
        ),
    }
    text = "A head on the track shows this. What does it ask of a driver?"
    return [_Card("signal", text, answer, why, aspect) for aspect, (answer, why) in asked.items()]


def _sights() -> list[_Card]:
    text = "{sight} What do you call first?"
    cards = [
        _Card("sight", text.format(sight=sight), called(ASKS[event]), ASKS[event].why)
        for event, sight in SIGHTS.items()
    ]
    blue = "Blue is for the slower kart; nobody stands, so there is no yellow."
    return [*cards, _Card("sight", text.format(sight=SLOWER), "Blue to the slow kart", blue)]


def called(asks: Asks) -> str:
    """Say a call as marshals do."""
    if asks.word is Word.STOP:
        kind = "" if asks.kind in (None, HoldKind.INCIDENT) else f", {say.KINDS[asks.kind]}"
        return f"Red{kind}"
    if asks.word is Word.CAUTION:
        return "Yellow in that sector"
    return f"{say.call_name(asks.word)} to that kart"


def _limits(venue: Venue) -> list[_Card]:
    limits = venue.limits
    fastest = max(limits.classes, key=lambda name: limits.classes[name])
    asked = {
        "past a sector under yellow": limits.caution,
        "where yellow stands for a person on the track": limits.creep,
        "in the pit lane": limits.pit,
        "after the chequered signal": limits.finish,
        f"in a clear race, class {fastest}": limits.classes[fastest],
    }
    text = "How fast does the limiter let a kart go {where}?"
    why = "The limiter holds it, whatever the driver does."
    return [_Card("limit", text.format(where=where), f"{kmh:g} km/h", why) for where, kmh in asked.items()]
