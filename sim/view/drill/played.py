"""A drill that was played at the window: its score, and what is kept of it. No drawing."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from sim.drill import deeds, due
from sim.drill.booth import Booth
from sim.drill.facts import Facts
from sim.drill.kept import RUNS
from sim.drill.paper import write
from sim.drill.report import report
from sim.drill.score import Score
from sim.drill.stretches import Stretch
from sim.drill.trainees import NAME, Run, Trainees


@dataclass(slots=True)
class Played:
    """A drill that is over: its tape, its score, and how every sector stood."""

    booth: Booth
    score: Score
    known: Facts
    rows: dict[str, list[Stretch]]
    at_ms: int
    """When it was over, UTC."""
    report: Path | None = None

    @property
    def name(self) -> str:
        """What its files are called."""
        return f"{self.score.drill}-{self.score.seed}-{self.at_ms}"

    def keep(self, data: Path, who: str) -> None:
        """Keep tape and calls in the data folder, and the score in the database; of a guest no score."""
        found, folder = self.score, data / RUNS
        self.booth.tape.save(folder / f"{self.name}.tape")
        about = f"{found.title}, seed {found.seed}, from {found.seat}"
        deeds.write(folder / f"{self.name}.toml", deeds.of_touches(self.known.touches, found.seat), about)
        if who:
            with Trainees(data / NAME) as trainees:
                trainees.add(who, found, self.at_ms)
                due.review(trainees, who, found, self.at_ms)

    def debrief(self, data: Path, who: str) -> None:
        """Write the debrief beside the tape."""
        before: list[Run] = []
        if who:
            with Trainees(data / NAME) as trainees:
                before = [run for run in trainees.runs(who) if run.at_ms < self.at_ms]
        self.report = data / RUNS / f"{self.name}.html"
        write(self.report, report(self.score, self.booth.cast, self.known, before))
