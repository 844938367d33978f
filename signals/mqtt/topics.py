"""Topic names: `kerblight/1/<venue>/…`, or `kerblight-sim/1/<venue>/…` with any simulated equipment."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

REAL_ROOT = "kerblight/1"
SIM_ROOT = "kerblight-sim/1"


@dataclass(frozen=True, slots=True)
class Topics:
    """The topics of one venue, below its root; `split` undoes any of them."""

    root: str

    @classmethod
    def of(cls, venue: str, *, simulated: bool) -> Topics:
        """Give the topics of a venue's id; any simulated equipment moves all of them aside."""
        return cls(f"{SIM_ROOT if simulated else REAL_ROOT}/{venue}")

    def name(self, *levels: str) -> str:
        """Join levels below the root: `name("head", "h1", "aspect")`; `+` and `#` make filters."""
        return "/".join((self.root, *levels))

    def split(self, topic: str) -> tuple[str, ...]:
        """Levels below the root, or () for a topic of another venue."""
        prefix = self.root + "/"
        return tuple(topic[len(prefix) :].split("/")) if topic.startswith(prefix) else ()


@lru_cache(maxsize=16_384)
def matches(topic_filter: str, topic: str) -> bool:
    """Tell whether a topic falls under a filter with `+` (one level) and `#` (this level and all below)."""
    wanted, levels = topic_filter.split("/"), topic.split("/")
    if wanted[-1] == "#":
        wanted.pop()
        levels = levels[: len(wanted)]
    return len(wanted) == len(levels) and all(
        want in ("+", level) for want, level in zip(wanted, levels, strict=True)
    )
