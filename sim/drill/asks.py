"""What each sign asks of a marshal: for model answers, for what an instructor throws in, for the quiz."""

from __future__ import annotations

from dataclasses import dataclass

from signals.words import HoldKind, Word


@dataclass(frozen=True, slots=True)
class Asks:
    """What a sign asks for: a word and its kind; and why."""

    word: Word
    why: str
    kind: HoldKind | None = None


_STANDS = "It stands where others drive."
ASKS: dict[str, Asks] = {
    "medical": Asks(Word.STOP, "Somebody kneels beside him: nobody drives past first aid.", HoldKind.MEDICAL),
    "smoke": Asks(Word.STOP, "A battery that smokes may burn within seconds.", HoldKind.FIRE),
    "overturned": Asks(Word.STOP, "A driver may be under it."),
    "driver-out": Asks(Word.STOP, "A driver on foot has no idea of the next kart."),
    "wrong-way": Asks(Word.STOP, "Karts that meet head on have no time to brake."),
    "contact": Asks(Word.STOP, "Nobody knows yet who is hurt."),
    "barrier-moved": Asks(Word.STOP, "A wall in the road stops a kart at once."),
    "spin": Asks(Word.CAUTION, "A kart across the road is hit by the next one."),
    "stall": Asks(Word.CAUTION, _STANDS),
    "pushed": Asks(Word.CAUTION, "Somebody walks behind it."),
    "hand-raised": Asks(Word.CAUTION, "He stands, and somebody has to go to him."),
    "child-in-tears": Asks(Word.CAUTION, _STANDS),
    "debris": Asks(Word.CAUTION, "Karts swerve around it, into each other."),
    "wet-patch": Asks(Word.CAUTION, "On water tyres hold half as well."),
    "kart-button": Asks(Word.CAUTION, "It stands, and somebody has to go to it."),
    "loose-clothing": Asks(Word.STOP_ONE, "What winds into an axle strangles within seconds."),
    "kart-enters": Asks(Word.STOP_ONE, "Nobody has looked at belts, brakes or gap."),
    "shortcut": Asks(Word.DISQUALIFY_ONE, "The house rule: who cuts a corner comes in."),
}
"""The gravest first."""
