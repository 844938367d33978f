"""How somebody comes along: weeks side by side, counts pooled, never averages of averages."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from itertools import groupby

from msgspec import Struct

from sim.drill.stats import detection, quantile, wilson
from sim.drill.trainees import Run


class Week(Struct, frozen=True, kw_only=True):
    """One week: `begins` is its Monday (UTC)."""

    begins: str
    runs: int
    passed: int
    percent: float
    """Mean of the runs."""
    called_s: float | None
    """Median from visible to called."""
    called_p90_s: float | None
    hits: int
    signals: int
    hit_low: float
    hit_high: float
    false_alarms: int
    noise: int
    d_prime: float
    criterion: float
    exposed_s: float


def weeks(runs: Iterable[Run]) -> list[Week]:
    """Give week by week; weeks without a run are left out."""
    ordered = sorted(runs, key=lambda run: run.at_ms)
    return [_week(begins, list(group)) for begins, group in groupby(ordered, key=_monday)]


def _monday(run: Run) -> str:
    day = datetime.fromtimestamp(run.at_ms / 1000, UTC)
    return f"{day - timedelta(days=day.weekday()):%Y-%m-%d}"


def _week(begins: str, runs: list[Run]) -> Week:
    scores = [run.score for run in runs]
    took = [spell.took_s for score in scores for spell in score.deciding.called]
    hits, signals = sum(each.seeing.hits for each in scores), sum(each.seeing.signals for each in scores)
    false, noise = sum(each.seeing.false_alarms for each in scores), sum(each.seeing.noise for each in scores)
    d_prime, criterion = detection(hits, signals, false, noise)
    low, high = wilson(hits, signals)
    return Week(
        begins=begins,
        runs=len(runs),
        passed=sum(score.passed for score in scores),
        percent=round(sum(score.percent for score in scores) / len(scores), 1),
        called_s=quantile(took, 0.5),
        called_p90_s=quantile(took, 0.9),
        hits=hits,
        signals=signals,
        hit_low=round(low, 3),
        hit_high=round(high, 3),
        false_alarms=false,
        noise=noise,
        d_prime=round(d_prime, 3),
        criterion=round(criterion, 3),
        exposed_s=round(sum(score.safety.exposed_s for score in scores), 1),
    )
