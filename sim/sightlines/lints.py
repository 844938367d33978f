"""The doubt about sight that `kerblight venue lint` tells: stretches on which no head is seen for long."""

from __future__ import annotations

from collections.abc import Iterator

from signals.errors import Finding
from signals.venue.model import Venue
from sim.sightlines.survey import EYES_M, Condition, Stretch, Survey


def blind_stretches(venue: Venue) -> Iterator[Finding]:
    """Warn where a driver sees no head for longer than the reaction that a caution's approach counts on."""
    survey = Survey(venue)
    view = survey.view(Condition(wet=False, eye_m=min(EYES_M)))
    for stretch in view.blind_stretches:
        if stretch.seconds * 1000 > venue.timing.reaction:
            yield Finding(venue.path.name, 0, "head", "", _told(survey, stretch), "warning")


def _told(survey: Survey, stretch: Stretch) -> str:
    return (
        f"none is seen from {stretch.from_m:.0f} to {stretch.to_m:.0f} m ({survey.names(stretch.sectors)}),"
        f" for {stretch.seconds:.1f} s; turn, move or add one (kerblight sightlines --propose 1 --keep)"
    )
