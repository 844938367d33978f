"""The bench's own eye on what is really driven, where a node declares one: lines on standard output."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from signals.conform.bench import Bench
from signals.conform.organ import HeadOrgan, KartOrgan
from signals.conform.sentences import ANSWER_MS
from signals.mqtt.contract import Shown


@dataclass(frozen=True, slots=True)
class Cap:
    """A cap the bench measured, and when (loop time, s)."""

    at_s: float
    kmh: float


def there(bench: Bench) -> bool:
    """Tell whether there is one."""
    return bench.subject.declared.witness == "stdout"


def lamps(bench: Bench) -> frozenset[str] | None:
    """Give the lamps that are lit, by the last line of the witness."""
    said = [*_said(bench, "lamps")]
    return frozenset(said[-1][1]) if said else None


def caps(bench: Bench) -> Iterator[Cap]:
    """Give every cap the witness told."""
    for at_s, values in _said(bench, "cap"):
        yield Cap(at_s, float(values[0]))


def _said(bench: Bench, word: str) -> Iterator[tuple[float, list[str]]]:
    """Give, of each line about the organ under test, when it came and what follows the organ's name."""
    for line in bench.subject.lines:
        if line.text.split()[:2] == [word, bench.organ.report[1]]:
            yield line.at_s, line.text.split()[2:]


def fallen(bench: Bench) -> bool:
    """Tell whether what is driven has fallen: a head's lamps to its fail aspect, a kart's cap to caution."""
    if isinstance(bench.organ, HeadOrgan):
        return lamps(bench) == frozenset(bench.organ.head.aspects[bench.organ.fail])
    measured = [*caps(bench)]
    return bool(measured) and measured[-1].kmh <= KartOrgan.caps["fail_kmh"]


async def agrees(bench: Bench) -> None:
    """See that the lamps lit are those of the aspect reported, where a head has a witness."""
    report = bench.report
    if isinstance(bench.organ, HeadOrgan) and there(bench) and isinstance(report, Shown):
        due = frozenset(bench.organ.head.aspects[report.aspect])
        await bench.until(
            lambda: lamps(bench) == due, ANSWER_MS, f"lit are {', '.join(sorted(due))} under {report.aspect}"
        )
