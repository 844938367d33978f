"""The signal quiz in the window: a digit answers, the reason is told, Enter goes on. No drawing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from signals.venue.model import Venue
from sim.drill.quiz import Answered, Question, judged, quiz

QUESTIONS = 8


@dataclass(slots=True)
class Quizzing:
    """A quiz under way."""

    questions: Sequence[Question]
    given: list[int] = field(default_factory=list)
    told: bool = False
    """Whether the reason of the last answer is on the page."""

    @classmethod
    def drawn(cls, venue: Venue, seed: int) -> Quizzing:
        """Draw one."""
        return cls(quiz(venue, seed, QUESTIONS))

    @property
    def number(self) -> int:
        """The question that is on the page, from 0."""
        return len(self.given) - self.told

    @property
    def right(self) -> int:
        """How many answers were right so far."""
        given = zip(self.questions, self.given, strict=False)
        return sum(question.right == answer for question, answer in given)

    @property
    def over(self) -> bool:
        """Whether every question was answered, and the last reason read."""
        return not self.told and len(self.given) == len(self.questions)

    def press(self, key: str) -> None:
        """Answer by a digit; once the reason was told, Enter goes on."""
        if self.told:
            self.told = key != "Enter"
        elif key.isdigit() and 1 <= int(key) <= len(self.questions[self.number].options):
            self.given.append(int(key) - 1)
            self.told = True

    def judged(self) -> Answered:
        """Give what came of it."""
        return judged(self.questions, self.given)
