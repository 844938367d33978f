"""A venue file as large as asked for: `python -m benchmarks.large 200 60 > large.toml`.

harbour-loop with further heads, eight to a node, spread along the track, and further karts. Nobody would
build it; it shows what a controller bears.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator

from signals.cli.options import DEFAULT_VENUE
from signals.venue import load

HEADS_A_NODE = 8


def large(heads: int, karts: int) -> str:
    """Write the venue file of so many heads and karts, at least those of harbour-loop."""
    text = DEFAULT_VENUE.read_text(encoding="utf-8")
    before, limits, after = text.partition("[limits_kmh]")
    return "\n".join((before, *_heads(heads), *_karts(karts), limits + after))


def _heads(heads: int) -> Iterator[str]:
    venue = load(DEFAULT_VENUE)
    sectors = [sector for sector in venue.sectors if sector.id != "pit"]
    more = [f"x{n}" for n in range(heads - len(venue.heads))]
    for n, head in enumerate(more):
        sector = sectors[n % len(sectors)]
        at_m = (sector.from_m + 1 + n // len(sectors) % 20) % venue.length_m
        yield (
            f'[[head]]\nid = "{head}"\nat_m = {at_m:.1f}\nside = "{"left" if n % 2 else "right"}"\n'
            f'facing_deg = 0\nprotects = ["{sector.id}"]\n'
        )
    for n in range(0, len(more), HEADS_A_NODE):
        mine = ", ".join(f'"{head}"' for head in more[n : n + HEADS_A_NODE])
        yield f'[[node]]\nid = "y{n // HEADS_A_NODE}"\nkind = "heads"\nsimulated = true\nheads = [{mine}]\n'


def _karts(karts: int) -> Iterator[str]:
    for number in range(len(load(DEFAULT_VENUE).karts) + 1, karts + 1):
        yield f'[[kart]]\nnumber = {number}\nclass = "adult"\n'
        yield f'[[node]]\nid = "k{number}"\nkind = "kart"\nsimulated = true\nkarts = [{number}]\n'


if __name__ == "__main__":
    print(large(int(sys.argv[1]), int(sys.argv[2])))
