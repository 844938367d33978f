"""A venue far larger than any: `python -m benchmarks.large [--n 500] [--sizes 16x12,50x20,100x40,200x60]`.

For each size (heads x karts) a broker, a controller and a monitor run as processes of their own; every
head and kart is a bare socket that only listens, for this machine is no track full of machines. Measured from
a stop to the beat that tells it, and to the last new aspect or limit. The floor: one bare publish of such a
beat to as many bare subscribers, on the same broker, in the same run; nothing can tell all of them faster.
Wall time: other work on the machine counts.

`--write 200x60` prints the venue file instead.
"""

from __future__ import annotations

import asyncio
import logging
import statistics
import tempfile
import time
from collections.abc import Iterator, Sequence
from contextlib import closing
from pathlib import Path

from benchmarks.bare import Bare, Publish
from benchmarks.latency import Listening, Waits
from benchmarks.measure import p99, parser, resident_mb, say_where, show, verdict
from benchmarks.whole import wanted
from signals.cli.data import credentials_of, prepare, read_credentials
from signals.cli.options import DEFAULT_VENUE, address
from signals.cli.recipes import recipes
from signals.controller.layout import layout_of
from signals.controller.service import FIRST_CONTACT_S
from signals.core.machine import Core
from signals.mqtt.topics import Topics
from signals.supervise.supervisor import Supervisor
from signals.venue import load
from signals.words import Word

HEADS_A_NODE = 8
SIZES = "16x12,50x20,100x40,200x60"
PARTS = ("broker", "monitor", "controller")
SETTLED_S = 3.0
"""After every node was missed, and yellow placed for it."""
TARGET = 1.5
"""p99 of a stop told by the beat, against the floor's."""


def large(heads: int, karts: int) -> str:
    """Write the venue file of harbour-loop with so many heads and karts, at least its own.

    Further heads stand spread along the track, eight to a node. Nobody would build it.
    """
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


# -- one size --------------------------------------------------------------------------------------------


async def measure(venue_file: Path, folder: Path, times: int) -> tuple[dict[Word, Waits], list[float], float]:
    """Give the waits of stop and lift, the floor's, and the controller's memory in MB."""
    venue, asked = load(venue_file), wanted(venue_file, folder)
    prepare(folder)
    async with Supervisor([each for each in recipes(asked) if each.name in PARTS]) as supervisor:
        await asyncio.sleep(FIRST_CONTACT_S + SETTLED_S)
        with closing(Listening(venue, address(asked.broker.url), folder)) as listening:
            waits = await asyncio.to_thread(listening.many, times)
            memory_mb = resident_mb(supervisor.pid("controller"))
            await supervisor.kill("controller")
            known = credentials_of(read_credentials(folder), "controller")
            teller = Bare(asked.broker.host, asked.broker.port, "controller", (), known)
            beat = Topics.of(venue.id, simulated=venue.simulated).name("beat")
            floor = await asyncio.to_thread(listening.told, teller, Publish(beat, b"x" * 200), times)
            teller.close()
    return waits, floor, memory_mb


def _compiled_s(venue_file: Path) -> float:
    layout = layout_of(load(venue_file))
    began_s = time.process_time()
    Core(layout)
    return time.process_time() - began_s


def rows(size: str, times: int) -> Sequence[str]:
    """Measure one size; give its row."""
    heads, karts = map(int, size.split("x"))
    with tempfile.TemporaryDirectory() as folder:
        venue_file = Path(folder) / "large.toml"
        venue_file.write_text(large(heads, karts), encoding="utf-8")
        compiled_s = _compiled_s(venue_file)
        waits, floor, memory_mb = asyncio.run(measure(venue_file, Path(folder) / "data", times))
    beat, last = (waits[Word.STOP].took[what] for what in ("beat at all nodes", "last node"))
    return (
        f"{heads} × {karts}",
        f"{compiled_s:.1f}",
        f"{memory_mb:.0f}",
        *(f"{ms:.1f}" for took in (beat, floor) for ms in (statistics.median(took), p99(took))),
        f"{p99(beat) / p99(floor):.2f}",
        verdict(p99(beat) <= TARGET * p99(floor)),
        *(f"{ms:.1f}" for ms in (statistics.median(last), p99(last))),
    )


COLUMNS = (
    "ms", "compile s", "MB", "beat p50", "p99", "floor p50", "p99", "÷ floor", f"≤ {TARGET:g}",
    "last p50", "p99",
)  # fmt: skip


def main() -> None:
    """Measure each size and print."""
    asked = parser(__doc__)
    asked.add_argument("--n", type=int, default=500, help="calls of each word, for each size")
    asked.add_argument("--sizes", default=SIZES, help="heads x karts, …")
    asked.add_argument("--write", metavar="HEADSxKARTS", help="print the venue file and measure nothing")
    options = asked.parse_args()
    if options.write:
        print(large(*map(int, options.write.split("x"))))
        return
    say_where()
    logging.disable()
    show("Stop, by heads × karts", COLUMNS, [rows(size, options.n) for size in options.sizes.split(",")])


if __name__ == "__main__":
    main()
