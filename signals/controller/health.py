"""How the controller is: one line, and figures of what it knows and does."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from signals.core.state import Picture
from signals.health.report import Figure, Health, counter, gauge, one_of
from signals.words import Condition, Phase

SILENT_S = 1.0
"""Without a beat for so long its work has stopped: ten were due."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pulse:
    """What the controller does, beside what it knows.

    Attributes:
        up: whether the broker is reached.
        beat_s: how long ago the last beat was made; 0 before the first connection.
        late_s: by how much the latest of the last beats came late.
        beats: how many were made in this boot.
        answers: calls answered in this boot, by "accepted" and "refused".
        not_taken: messages that did not fit the contract or the venue.
        moved_ms: by how much the machine's clock was moved since the start.

    """

    up: bool
    beat_s: float
    late_s: float
    beats: int
    answers: Mapping[str, int]
    not_taken: int
    moved_ms: int


def health_of(picture: Picture, pulse: Pulse) -> Health:
    """Tell how the controller is."""
    heads = [health for health in picture.heads.values() if health != "out-of-service"]
    heard = {
        "heads": (heads.count("ok"), len(heads)),
        "karts": (sum(kart.link for kart in picture.karts.values()), len(picture.karts)),
    }
    ill = [
        *(["no broker"] if not pulse.up else []),
        *(["the record fails"] if picture.journal != "ok" else []),
        *([f"the monitor is {picture.monitor}"] if picture.monitor != "ok" else []),
    ]
    words = [
        f"{picture.phase}, {picture.condition}",
        *(f"{n} of {of} {what} heard" for what, (n, of) in heard.items()),
        *ill,
    ]
    well = not ill and all(n == of for n, of in heard.values())
    figures = (*_known(picture, heard), *_done(pulse))
    return Health("; ".join(words), well=well, alive=pulse.beat_s < SILENT_S, figures=figures)


def _known(picture: Picture, heard: Mapping[str, tuple[int, int]]) -> Iterator[Figure]:
    yield from one_of("phase", "1 for the session's phase now.", "phase", Phase, picture.phase)
    says = "1 for the track's worst condition now."
    yield from one_of("condition", says, "condition", Condition, picture.condition)
    for what in ("stop", "caution", "recovery"):
        count = sum(hold.what == what for hold in picture.holds)
        yield gauge("holds", count, "Holds that stand.", what=what)
    for what, (n, of) in heard.items():
        yield gauge(f"{what}_heard", n, f"How many {what} are heard.")
        yield gauge(what, of, f"How many {what} are in service.")
    for part in ("monitor", "journal"):
        yield gauge(
            "needed_well", getattr(picture, part) == "ok", "1 while what is needed is well.", what=part
        )


def _done(pulse: Pulse) -> Iterator[Figure]:
    yield gauge("needed_well", pulse.up, "1 while what is needed is well.", what="broker")
    yield counter("beats_total", pulse.beats, "Beats made.")
    yield gauge("beat_late_seconds", pulse.late_s, "How late the latest of the last second's beats came.")
    for came in ("accepted", "refused"):
        yield counter("calls_total", pulse.answers.get(came, 0), "Calls answered.", answer=came)
    yield counter("not_taken_total", pulse.not_taken, "Messages that were not taken.")
    yield gauge("clock_moved_seconds", pulse.moved_ms / 1000, "How far the machine's clock was moved.")
