"""A score for people at a terminal: every line, then what it comes to."""

from __future__ import annotations

from typing import Any

import msgspec
from rich.console import Console
from rich.table import Table

from signals import say
from sim.drill.progress import Week
from sim.drill.score import Line, Score

NOT_INSTEAD = (
    "No drill replaces training at the real track; the venue's own procedures win over what is practised."
)
"""What practice says of itself: before a drill, in its report, in the docs."""


def table_of(score: Score) -> Table:
    """Give every line of a score, with what would have been better."""
    table = Table(
        "", "marks", "", title=f"{score.title}: {score.percent:g} %", title_justify="left", show_lines=False
    )
    for line in score.lines:
        table.add_row("✓" if line.full else "✗", _marks(line), _text(line))
    return table


def summary(score: Score, to: Console) -> None:
    """Print a score: its lines, then seeing, deciding and safety in a sentence each."""
    to.print(table_of(score))
    for sentence in sentences(score):
        to.print(sentence)
    to.print(NOT_INSTEAD, style="dim")


def sentences(score: Score) -> list[str]:
    """Say in a sentence each what the numbers are."""
    seeing, deciding, safety = score.seeing, score.deciding, score.safety
    low, high = round(seeing.hit_low * 100), round(seeing.hit_high * 100)
    return [
        f"Seeing: {seeing.hits} of {seeing.signals} noticed (95 % interval {low} to {high} %), "
        f"{seeing.false_alarms} called for nothing in {say.many(seeing.noise, 'quiet stretch', 'es')}; "
        f"d′ {seeing.d_prime:.2f}, c {seeing.criterion + 0.0:+.2f}; {_times(seeing.median_s, seeing.p90_s)}",
        f"Deciding: {deciding.right} of {deciding.duties} right, {deciding.in_time} in time; "
        f"{_times(deciding.median_s, deciding.p90_s)}; {deciding.refused} refused, "
        f"{deciding.premature} too soon, {deciding.overlong_s:g} s too long",
        f"Safety: {safety.exposed_s:g} s somebody unprotected, "
        f"{say.many(safety.contacts, 'contact')} that could have been prevented",
        ("Passed." if score.passed else "Not passed.")
        + (" Somebody was in danger." if _grave(score) else ""),
    ]


def timeless(score: Score) -> str:
    """Say why a run has no time from visible to called; nothing where it has one."""
    if score.deciding.called:
        return ""
    called = any(mark.kind == "called" for mark in score.timeline)
    return f"Nothing was called{' rightly' if called else ''} this time: there is no time to draw."


WEEK_HEAD = ("week of", "runs", "passed", "mean %", "called, median s", "90 % s", "noticed", "d′", "c")


def week_row(week: Week) -> tuple[str, ...]:
    """Give a week's numbers as they are read, in the order of `WEEK_HEAD`."""
    return (
        week.begins,
        str(week.runs),
        str(week.passed),
        f"{week.percent:g}",
        _or_dash(week.called_s),
        _or_dash(week.called_p90_s),
        f"{week.hits} of {week.signals}",
        f"{week.d_prime:.2f}",
        f"{week.criterion + 0.0:+.2f}",
    )


def weeks(found: list[Week]) -> Table:
    """Give weeks as rows."""
    table = Table(*WEEK_HEAD, show_edge=False, pad_edge=False)  # so that 80 columns hold it, no word cut
    for column in table.columns:
        column.min_width = max(len(word) for word in str(column.header).split())
    table.columns[0].no_wrap = True
    for week in found:
        table.add_row(*week_row(week))
    return table


def _or_dash(value: float | None) -> str:
    return "–" if value is None else f"{value:.1f}"


def plain_json(value: Any) -> bytes:
    """Write structs as indented JSON."""
    return msgspec.json.format(msgspec.json.encode(value), indent=2) + b"\n"


def _grave(score: Score) -> bool:
    return any(line.grave for line in score.lines)


def _times(median_s: float | None, p90_s: float | None) -> str:
    if median_s is None or p90_s is None:
        return "nothing to time"
    return f"median {median_s:.1f} s, 90 % within {p90_s:.1f} s"


def _marks(line: Line) -> str:
    return f"{line.got:g}" if line.of == 0 else f"{line.got:g} of {line.of:g}"


def _text(line: Line) -> str:
    return f"{line.title}: {line.said}" + (f"\n  Better: {line.better}" if line.better else "")
