"""The append-only record: `Journal` and `JournalWriter` write it, `signals.journal.reader` reads it.

The writing names load on first use, so that a screen which only reads never holds a writer.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

from signals.journal.chain import Draft, Entry, Kind

if TYPE_CHECKING:
    from signals.journal.store import Journal, JournalFailed
    from signals.journal.writer import JournalWriter

__all__ = ["Draft", "Entry", "Journal", "JournalFailed", "JournalWriter", "Kind"]

_LAZY = {
    "Journal": "signals.journal.store",
    "JournalFailed": "signals.journal.store",
    "JournalWriter": "signals.journal.writer",
}


def __getattr__(name: str) -> Any:
    if name not in _LAZY:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(_LAZY[name]), name)
