"""What came of a case, and how its code says so."""

from __future__ import annotations

from enum import StrEnum

from msgspec import Struct
from msgspec.structs import force_setattr


class Verdict(StrEnum):
    """What a case came to."""

    PASS = "PASS"  # noqa: S105 - no password
    FAIL = "FAIL"
    INCONCLUSIVE = "INCONCLUSIVE"
    NOT_DECLARED = "NOT DECLARED"


class Failed(Exception):
    """The node did not do what the sentence asks."""


class Proven(Failed):
    """It did what no delay explains: nothing permissive ever comes of being late."""


class Inconclusive(Exception):
    """The kit could not tell, through no fault of the node."""


class NotDeclared(Exception):
    """The case is about something the node does not say it has."""


def printable(text: str) -> str:
    """Give a text on one line, without what no report can carry: a node may have said anything."""
    return "".join(sign if sign.isprintable() else "?" for sign in " ".join(text.split()))


class Result(Struct, frozen=True):
    """One case as it went. `ms` is how long it took; `said` is printable."""

    number: int
    title: str
    sentences: tuple[str, ...]
    verdict: Verdict
    said: str
    ms: int

    def __post_init__(self) -> None:
        force_setattr(self, "said", printable(self.said))
