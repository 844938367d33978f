"""Fill an interlock's sentence: what, where, who, since when, in the words of the screens."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping

from signals import say
from signals.core.state import Hold, Layout
from signals.words import EQUIPMENT, PIT

_FIELD = re.compile(r"\{(\w+)\}")
MOST = 6
"""Sentences given for one interlock; more are counted."""


def clock(ms: int, offset_min: int) -> str:
    """Give a time of day, HH:MM."""
    minutes = (ms // 60_000 + offset_min) % 1440
    return f"{minutes // 60:02d}:{minutes % 60:02d}"


def sector(layout: Layout, member: str) -> str:
    """Give a sector or spot as screens name it."""
    if member == PIT:
        return "the pit lane"
    if member in ("unknown", "aside"):
        return {"unknown": "place unknown", "aside": "set aside"}[member]
    return layout.sector_names[member]


def holder(layout: Layout, member: str) -> str:
    """Give a post as a sentence names it."""
    return "the equipment" if member == EQUIPMENT else layout.post_names[member]


class Filler:
    """Fills templates; `look` answers what a name alone cannot (places, classes, open items)."""

    def __init__(self, layout: Layout, sorts: Mapping[str, str], look: Callable[[str], str]) -> None:
        self._layout = layout
        self._sorts = sorts
        self._look = look

    def fill(self, template: str, names: Mapping[str, str], hold: Hold | None) -> str:
        """Fill one sentence from bound names and the hold it speaks of."""

        def field(match: re.Match[str]) -> str:
            name = match.group(1)
            if hold is not None and name in ("since", "reason", "partner"):
                return self._of_hold(name, hold)
            if name == "word":
                return say.call_name(names[name])
            if name in names:
                return self._member(self._sorts.get(name, ""), names[name])
            base, _, what = name.rpartition("_")
            return self._look(f"{what}:{names[base]}" if base in names else name)

        text = _FIELD.sub(field, template)
        return say.capital(text)

    def _of_hold(self, name: str, hold: Hold) -> str:
        if name == "since":
            return clock(hold.since, self._layout.utc_offset_min)
        return (hold.reason if name == "reason" else hold.partner) or f"no {name} given"

    def _member(self, sort: str, member: str) -> str:
        if sort in ("sector", "spot", "track"):
            return sector(self._layout, member)
        if sort in ("post", "holder"):
            return holder(self._layout, member)
        return member.replace("_", "-")
