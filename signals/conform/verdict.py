"""What came of a case, and how its code says so."""

from __future__ import annotations

from enum import StrEnum

from msgspec import Struct


class Verdict(StrEnum):
    """What a case came to."""

    PASS = "PASS"  # noqa: S105 - no password
    FAIL = "FAIL"
    INCONCLUSIVE = "INCONCLUSIVE"
    NOT_DECLARED = "NOT DECLARED"


class Failed(Exception):
    """The node did not do what the sentence asks."""


class Inconclusive(Exception):
    """The kit could not tell, through no fault of the node."""


class NotDeclared(Exception):
    """The case is about something the node does not say it has."""


class Result(Struct, frozen=True):
    """One case as it went. `ms` is how long it took."""

    number: int
    title: str
    sentences: tuple[str, ...]
    verdict: Verdict
    said: str
    ms: int
