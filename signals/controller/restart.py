"""Where a controller begins: from the journal's last change, or anew."""

from __future__ import annotations

from dataclasses import dataclass

from signals.core.machine import Core
from signals.core.state import State
from signals.errors import Unusable
from signals.journal import Journal, Kind


@dataclass(frozen=True, slots=True)
class Beginning:
    """A state under a new boot; `since_ms` is when the last boot last changed it, None without one.

    `digest` is that of the venue file the last boot ran by.
    """

    state: State
    since_ms: int | None = None
    digest: str | None = None


def begin(core: Core, journal: Journal, boot: str) -> Beginning:
    """Read the last state back; a journal without one gives a venue that was never run.

    Raises:
        Unusable: the last state does not fit the venue. To forget holds would be worse than not to start.

    """
    last = journal.last(Kind.CHANGE)
    if last is None:
        return Beginning(core.begin(boot))
    try:
        return Beginning(core.load(last.body["state"], boot), last.at, _digest(journal))
    except (KeyError, ValueError, TypeError) as mistake:
        right = "use the venue file that journal was written with, or another data folder"
        raise Unusable(
            f"{journal.path}: entry {last.n} holds a state of another venue ({mistake}); {right}"
        ) from mistake


def _digest(journal: Journal) -> str | None:
    booted = journal.last(Kind.BOOT)
    return booted.body.get("digest") if booted else None
