"""The debrief as one HTML file: nothing is loaded from anywhere, and it prints on A4 in black and white."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime
from importlib.resources import files
from pathlib import Path

from jinja2 import Environment, StrictUndefined
from markupsafe import Markup

from signals.actions import NOT_A_STOP
from signals.look import LIGHT
from sim.drill import plots
from sim.drill.cast import Cast
from sim.drill.facts import Facts
from sim.drill.score import Score
from sim.drill.stretches import stretches
from sim.drill.telling import NOT_INSTEAD, sentences
from sim.drill.trainees import Run

TEMPLATE = "report.html"
NOBODY = "nobody named"


def report(score: Score, cast: Cast, known: Facts, before: Sequence[Run] = ()) -> str:
    """Give the page of a score; `before` are the same trainee's runs until then, oldest first."""
    venue = known.venue
    post = next(each for each in venue.posts if each.id == score.seat)
    began = datetime.fromtimestamp(known.tape.head.began_ms / 1000, UTC) if known.tape.head.began_ms else None
    environment = Environment(autoescape=True, undefined=StrictUndefined)
    template = environment.from_string(files("sim.drill").joinpath(TEMPLATE).read_text(encoding="utf-8"))
    return template.render(
        score=score,
        who=score.who or NOBODY,
        date="without a window" if began is None else f"{began:%Y-%m-%d %H:%M} UTC",
        venue=venue,
        seat=post.name,
        theme=LIGHT,
        not_a_stop=NOT_A_STOP,
        not_instead=NOT_INSTEAD,
        timeline=Markup(plots.timeline(venue, stretches(known), score.timeline, known.ends_ms)),  # noqa: S704
        history=Markup(plots.history(score, before)),  # noqa: S704 - escaped where they are made
        map=Markup(plots.track_map(known, score)),  # noqa: S704
        runs=len(before[-plots.RUNS_SHOWN :]),
        sentences=sentences(score),
        lines=sorted(score.lines, key=lambda line: line.full),
        good=cast.drill.file.good,
    )


def write(path: Path, page: str) -> None:
    """Write the page."""
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(page, encoding="utf-8")
