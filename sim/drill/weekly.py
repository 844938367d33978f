"""How somebody comes along, as one HTML file: curves over weeks, and their numbers."""

from __future__ import annotations

from collections.abc import Sequence

from markupsafe import Markup

from signals.venue.model import Venue
from sim.drill import curves, paper
from sim.drill.progress import Week
from sim.drill.telling import WEEK_HEAD, week_row

TEMPLATE = "progress.html"


def weekly(who: str, venue: Venue, found: Sequence[Week]) -> str:
    """Give the page of somebody's weeks; there is at least one."""
    pictures = [Markup(each) for each in curves.drawn(found)]  # noqa: S704 - escaped where they are made
    return paper.page(
        TEMPLATE,
        who=who,
        venue=venue,
        weeks=found,
        runs=sum(week.runs for week in found),
        panels=list(zip(curves.panels(found), pictures, strict=True)),
        head=WEEK_HEAD,
        rows=[week_row(week) for week in found],
    )
