"""What came of a sequence: every step, what was expected, what came, and how long it took."""

from __future__ import annotations

from typing import Literal

from msgspec import Struct

Outcome = Literal["met", "unmet", "not-applicable", "unreached"]


class StepResult(Struct, frozen=True, kw_only=True):
    """One step. `step` 0 is the start; `ms` is the time from when the step was due to its end."""

    step: int
    line: int
    what: str
    expected: str
    came: str
    ms: int
    outcome: Outcome
    optional: bool = False

    @property
    def held(self) -> bool:
        """Whether it counts as met: what cannot be done here may be optional."""
        return self.outcome == "met" or (self.optional and self.outcome == "not-applicable")


class Result(Struct, frozen=True, kw_only=True):
    """A whole sequence."""

    title: str
    file: str
    venue: str
    seed: int
    held: bool
    steps: list[StepResult]


MARKS: dict[Outcome, str] = {"met": "✓", "unmet": "✗", "not-applicable": "○", "unreached": "✗"}
"""How screens and tables mark an outcome."""
