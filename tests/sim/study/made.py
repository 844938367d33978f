"""Small studied sessions of the venues that come along."""

from __future__ import annotations

from msgspec.structs import replace

from signals.venue.model import Venue
from sim.study.prepared import People, Prepared, pace_of, plan_of, wires_of


def prepared(
    venue: Venue,
    *,
    hertz: int = 60,
    longest_s: float = 100.0,
    begins_s: float = 40.0,
    delay_s: float = 2.0,
    stops: bool = False,
    wet: bool = False,
    losses_per_hour: float = 0.0,
    finish_s: float = 70.0,
    karts: int | None = None,
) -> Prepared:
    mixed = replace(venue, choices=replace(venue.choices, mixed_classes=True))
    class_ = list(mixed.limits.classes)[-1]
    return Prepared(
        mixed,
        People(len(mixed.karts) if karts is None else karts, class_, 0.985),
        wet=wet,
        plan=plan_of(
            mixed,
            begins_s=begins_s,
            lasts_s=1e9,
            delay_s=delay_s,
            stops=stops,
            checks_s=5.0,
            finish_s=finish_s,
        ),
        wires=wires_of(mixed, losses_per_hour=losses_per_hour, loss_s=4.0, head_s=0.1, radio_s=0.1, wet=wet),
        pace=pace_of(hertz, longest_s),
    )
