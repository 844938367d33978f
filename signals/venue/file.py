"""`load`: a venue file, read, checked and complete."""

from __future__ import annotations

from pathlib import Path

from signals.errors import BadInput
from signals.venue.build import build
from signals.venue.centreline import lay_out
from signals.venue.checks import CHECKS
from signals.venue.draft import Draft, open_draft
from signals.venue.model import Venue
from signals.venue.read import BROKEN, sound


def load(path: str | Path) -> Venue:
    """Load a venue file; raises BadInput with every mistake in it at once."""
    draft = open_draft(Path(path))
    if draft.form is not BROKEN:
        lay_out(draft)
        _look_at_wiring(draft)
        for check in CHECKS:
            check(draft)
    if draft.findings:
        raise BadInput(draft.findings)
    return build(draft)


def _look_at_wiring(draft: Draft) -> None:
    """Take the wiring table, where one is named, into the digest; what it says is checked elsewhere."""
    for _, wiring in sound((draft.form.wiring,), "table"):
        if wiring.table is not None:
            draft.named_text(("wiring", "table"), wiring.table)
