"""What was looked at, what was seen, and what would mend it."""

from __future__ import annotations

from collections.abc import Sequence

from msgspec import Struct


class Seen(Struct, frozen=True):
    """One thing looked at.

    Attributes:
        about: the part of the installation it belongs to.
        what: the thing.
        ok: whether it is as it should be.
        said: how it is.
        mend: what would mend it; empty where nothing needs to.
        needed: whether kerblight cannot do without.

    """

    about: str
    what: str
    ok: bool
    said: str
    mend: str = ""
    needed: bool = True

    @property
    def short(self) -> bool:
        """Whether something that is needed is not as it should be."""
        return self.needed and not self.ok


class Look:
    """Gathers what is seen about one part of an installation."""

    def __init__(self, about: str) -> None:
        self._about = about
        self.seen: list[Seen] = []

    def at(self, what: str, ok: bool, said: str, mend: str = "", *, needed: bool = True) -> None:  # noqa: FBT001 - what was seen, read in order
        """Note one thing; `mend` is kept only where something is to be mended."""
        self.seen.append(Seen(self._about, what, ok, said, "" if ok else mend, needed))


def falls_short(seen: Sequence[Seen]) -> bool:
    """Tell whether anything needed is not as it should be."""
    return any(one.short for one in seen)
