"""What a walk writes into the record of the venue: `check` entries, chained with all the others.

The journal's one writer is the controller; a walk on the same machine appends beside it, which the chain
bears (`signals.journal.store`). A walk elsewhere writes none, and its record says so.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import msgspec

from signals.journal import Journal, JournalFailed, Kind
from signals.mqtt.contract import State


class Entries:
    """Writes check entries; `path` is the journal of the venue's data folder, where it is on this machine."""

    def __init__(self, path: Path | None) -> None:
        self._journal = Journal(path) if path is not None and path.exists() else None
        self.missed = 0
        """Entries that could not be written."""

    @property
    def there(self) -> bool:
        """Whether there is a journal to write in."""
        return self._journal is not None

    def write(self, state: State | None, at: int, what: str, **about: Any) -> None:
        """Append an entry; one that cannot be written is counted, and the record tells."""
        if self._journal is None:
            return
        boot, seq = (state.boot, state.seq) if state else ("none", 0)
        body = {"what": what, **msgspec.to_builtins(about)}
        try:
            self._journal.append(Kind.CHECK, body, at=at, boot=boot, seq=seq)
        except JournalFailed:
            self.missed += 1

    def close(self) -> None:
        """Let go of the file."""
        if self._journal is not None:
            self._journal.close()
