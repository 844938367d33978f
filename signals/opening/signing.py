"""A verdict signed by name: what the controller is told, and what is filed and printed."""

from __future__ import annotations

import asyncio
from functools import partial
from pathlib import Path
from typing import Any

from signals.controller.day import day_end_after
from signals.opening.book import Book, digest_of
from signals.opening.document import print_record
from signals.opening.history import week_before
from signals.opening.judgement import Judgement
from signals.opening.sheet import Sheet, Signature
from signals.venue.model import Operating
from signals.words import Verdict


def signature_of(
    verdict: Verdict,
    judged: Judgement,
    operating: Operating,
    now_ms: int,
    *,
    by: str,
    witness: str,
    note: str,
) -> Signature:
    """Make the signature; a verdict holds until the operating day ends."""
    return Signature(
        verdict=verdict,
        restriction=judged.restriction if verdict is Verdict.OPEN_RESTRICTED else "",
        by=by.strip(),
        witness=witness.strip(),
        at=now_ms,
        until=day_end_after(operating, now_ms),
        note=note,
    )


def fields_of(signature: Signature) -> dict[str, Any]:
    """Give the fields of the call `verdict`: that every row was tested is what the walk answers for."""
    fields: dict[str, Any] = {
        "verdict": signature.verdict,
        "until": signature.until,
        "by": signature.by,
    }
    fields |= {"checked": True} if signature.verdict is not Verdict.DO_NOT_OPEN else {}
    return fields | ({"reason": signature.restriction} if signature.restriction else {})


async def file(book: Book, sheet: Sheet, *, threaded: bool) -> tuple[Path, str]:
    """File a signed sheet, and print it compared with a week before; gives its file and the file's digest."""
    older = week_before(book.signed(), sheet)
    path = book.file(sheet)
    digest = digest_of(path)
    printing = partial(print_record, sheet, book.printed(sheet.run), digest=digest, before=older)
    if threaded:
        await asyncio.to_thread(printing)
    else:
        printing()
    return path, digest
