"""The numbered cases: which kinds of node each is for, and which sentences it holds them to."""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Mapping
from dataclasses import dataclass

from signals.conform.bench import Bench
from signals.conform.sentences import SENTENCES, Kind

Play = Callable[[Bench], Awaitable[str | None]]
"""Plays a case; gives a remark for the report. Raises Failed, Inconclusive or NotDeclared."""


@dataclass(frozen=True, slots=True)
class Case:
    """One case. `late` ones judge the whole run and come last."""

    number: int
    title: str
    who: frozenset[Kind]
    sentences: tuple[str, ...]
    play: Play


_CASES: dict[int, Case] = {}


def case(number: int, title: str, who: frozenset[Kind], *sentences: str) -> Callable[[Play], Play]:
    """Enter a case in the list.

    Raises:
        ValueError: the number is taken, or a sentence does not exist.

    """

    def enter(play: Play) -> Play:
        if number in _CASES or not set(sentences) <= set(SENTENCES):
            raise ValueError(f"case {number}: taken, or a sentence that is not there")
        _CASES[number] = Case(number, title, who, sentences, play)
        return play

    return enter


def cases(kind: Kind) -> list[Case]:
    """Give the cases for a kind of node, in order."""
    return [each for each in all_cases() if kind in each.who]


def all_cases() -> list[Case]:
    """Give every case, in order."""
    from signals.conform import fallback, heads, karts, orders, posts, reporting, whole  # noqa: F401, PLC0415

    return [_CASES[number] for number in sorted(_CASES)]


def checked_by(sentence: str) -> list[int]:
    """Give the numbers of the cases that hold a node to a sentence."""
    return [each.number for each in all_cases() if sentence in each.sentences]


def coverage() -> Mapping[str, list[int]]:
    """Give, for each sentence, the cases that check it."""
    return {sentence: checked_by(sentence) for sentence in SENTENCES}
