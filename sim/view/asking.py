"""A question before a call: what is asked, and what each answer does."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

SHOWN = 4
"""Choices on one page of a question: as many as the smallest window holds."""
Do = Callable[[float], None]
"""What an answer does, at a time (s)."""
Choice = tuple[str, Do]


@dataclass(frozen=True, slots=True)
class Option:
    """One answer to a question: its key, its words, and what it does."""

    key: str
    label: str
    do: Do


@dataclass(frozen=True, slots=True)
class Question:
    """What is asked; it falls as soon as the picture it is `about` has changed."""

    action: str
    text: str
    options: tuple[Option, ...]
    about: tuple[Any, ...] = ()

    def option(self, key: str) -> Option | None:
        """Give the answer a key stands for."""
        return next((option for option in self.options if option.key == key), None)


def page(choices: Sequence[Choice], first: int, turn: Callable[[int], None]) -> tuple[Option, ...]:
    """Give one page of choices with the keys 1, 2 …, and 0 for the next page where there are more.

    Args:
        choices: all of them.
        first: the first on this page.
        turn: shows the page that begins with the given one.

    """
    here = choices[first : first + SHOWN]
    options = tuple(Option(str(index), label, do) for index, (label, do) in enumerate(here, start=1))
    others = len(choices) - len(here)
    if not others:
        return options
    following = first + SHOWN if first + SHOWN < len(choices) else 0
    return (*options, Option("0", f"More: {others} others", lambda _: turn(following)))
