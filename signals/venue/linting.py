"""`lint`: what is doubtful about a venue that loads."""

from __future__ import annotations

import importlib
from collections.abc import Callable, Iterable
from importlib.metadata import entry_points

from signals.errors import BadInput, Finding
from signals.venue.draft import Draft, open_draft
from signals.venue.lines import KeyPath
from signals.venue.model import Venue

GROUP = "kerblight.lints"
"""Entry points: callables that take a Venue and give Findings with the level "warning"."""


def lint(venue: Venue) -> list[Finding]:
    """Give every warning about a venue, in the order of its file; others' lints come by entry point."""
    lints = importlib.import_module("signals.venue.lints")  # brings shapely, which running parts do without
    draft = _reopened(venue)
    own = [
        Finding(venue.path.name, draft.line(path), draft.spelled(path), value, right, "warning")
        for each in lints.LINTS
        for path, value, right in each(venue)
    ]
    return sorted([*own, *(finding for each in _others() for finding in each(venue))])


def _reopened(venue: Venue) -> Draft:
    """Find the lines again; a file that has gone or changed to nonsense since has none."""
    try:
        return open_draft(venue.path)
    except BadInput:
        return Draft(venue.path, {}, dict[KeyPath, int]())


def _others() -> Iterable[Callable[[Venue], Iterable[Finding]]]:
    return [each.load() for each in sorted(entry_points(group=GROUP), key=lambda each: each.name)]
