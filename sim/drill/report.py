"""The debrief as one HTML file: nothing is loaded from anywhere, and it prints on A4 in black and white."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime

from markupsafe import Markup

from sim.drill import paper, plots
from sim.drill.cast import Cast
from sim.drill.facts import Facts
from sim.drill.score import Score
from sim.drill.stretches import stretches
from sim.drill.telling import sentences, timeless
from sim.drill.trainees import Run

TEMPLATE = "report.html"
NOBODY = "nobody named"


def report(score: Score, cast: Cast, known: Facts, before: Sequence[Run] = ()) -> str:
    """Give the page of a score; `before` are the same trainee's runs until then, oldest first."""
    venue = known.venue
    post = next(each for each in venue.posts if each.id == score.seat)
    began = datetime.fromtimestamp(known.tape.head.began_ms / 1000, UTC) if known.tape.head.began_ms else None
    return paper.page(
        TEMPLATE,
        score=score,
        who=score.who or NOBODY,
        date="without a window" if began is None else f"{began:%Y-%m-%d %H:%M} UTC",
        venue=venue,
        seat=post.name,
        timeline=Markup(plots.timeline(venue, stretches(known), score.timeline, known.ends_ms)),  # noqa: S704
        history=Markup(plots.history(score, before)),  # noqa: S704 - escaped where they are made
        map=Markup(plots.track_map(known, score)),  # noqa: S704
        timeless=timeless(score),
        runs=len(before[-plots.RUNS_SHOWN :]),
        sentences=sentences(score),
        lines=sorted(score.lines, key=lambda line: line.full),
        good=cast.drill.file.good,
        mistakes=cast.drill.file.mistake,
    )
