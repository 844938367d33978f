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
from signals.venue.wires import read_wires


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
    """Read the wiring table, where one is named; whether it is sound is for `kerblight wiring lint`."""
    for _, wiring in sound((draft.form.wiring,), "table"):
        text = draft.named_text(("wiring", "table"), wiring.table) if wiring.table is not None else None
        if text is not None and wiring.table is not None:
            draft.wires, wrong = read_wires(text, wiring.table)
            draft.findings += wrong
