"""A study's report: one page that carries everything, its plots and numbers too."""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from itertools import product
from pathlib import Path
from typing import Any, NamedTuple

from jinja2 import Environment
from markupsafe import Markup
from matplotlib.figure import Figure

from signals.look import LIGHT
from signals.venue.model import Venue
from sim.plots import paper
from sim.study.figures import Estimate, count, difference, mean, share
from sim.study.form import MEASURES, Choice, Study
from sim.study.store import Store
from sim.study.work import model_digest

SAYS = {
    "called_s": ("Until the post called", "s"),
    "shown_s": ("Until a head before it showed yellow or red", "s"),
    "slow_s": ("Until the last kart in its sector was slow", "s"),
    "stood_s": ("Until all karts stood", "s"),
    "over_s": ("Until the kart drove on and nobody walked", "s"),
    "contacts": ("Contacts a session", ""),
    "hits": ("Contacts with the kart that stood", ""),
    "exposed_s": ("The marshal on the road", "s"),
    "passes": ("Karts that passed him there", ""),
    "fastest_kmh": ("The fastest of them", "km/h"),
    "false_s": ("False comfort: a head before it green", "s"),
    "strained_s": ("Limiters asked more than tyres held in a bend, all karts", "s"),
    "next_kmh": ("The first kart behind, when the post called", "km/h"),
    "next_gap_m": ("How far behind it was then", "m"),
    "next_told_s": ("From the call until its limiter was told", "s"),
    "next_seen_s": ("From the call until its driver saw yellow or red", "s"),
    "next_understood_s": ("From the call until he acted on it", "s"),
    "next_slow_s": ("From the call until it was slow", "s"),
    "next_m": ("How far it went until then", "m"),
}
"""What each measure is called, and its unit."""
FACTOR_SAYS = {
    "karts": "karts",
    "wet": "wet",
    "fall_mps2": "the limiter's fall, m/s²",
    "caution_kmh": "the yellow limit, km/h",
    "heads": "heads",
    "delay_s": "the marshal's delay, s",
    "stops": "red called",
    "losses_per_hour": "radio losses an hour and kart",
    "loss_s": "a loss's length, s",
    "compliance": "chance that a signal is heeded",
}
FACTOR_UNITS = {
    "fall_mps2": "m/s²",
    "caution_kmh": "km/h",
    "delay_s": "s",
    "losses_per_hour": "an hour",
    "loss_s": "s",
}
NEITHER = ("called_s", "next_kmh", "next_gap_m")
"""Measures of which less is not better."""
COUNTED = ("contacts", "hits", "passes")
"""Measures that count what seldom happens."""
MARKS = ("o", "s", "^", "D", "v", "P")
DODGE = 0.008
"""Of the axis: how far lines stand aside, so that their intervals do not cover each other."""
DASHES = ("solid", "dashed", "dotted", "dashdot")


Columns = dict[str, list[list[float | None]]]


class Row(NamedTuple):
    """A cell with what its sessions came to."""

    cell: dict[str, Choice]
    measures: dict[str, Estimate | None]
    touched: Estimate
    """The share of sessions with any contact."""
    sessions: int


class Found(NamedTuple):
    """Everything a report tells."""

    study: Study
    rows: list[Row]
    short: list[str]
    """Which choices do best, and which no worse."""
    answers: list[str]
    """What the first and the last differ by."""
    columns: Columns


def found(study: Study, store: Store) -> Found:
    """Work out what a study's sessions came to."""
    cells = list(study.cells())
    values = [_columns(store.of(number)) for number in range(len(cells))]
    rows = [
        Row(
            cell,
            {name: (count if name in COUNTED else mean)(columns[name]) for name in MEASURES},
            share(sum(1 for each in columns["contacts"] if each), len(columns["contacts"])),
            len(columns["contacts"]),
        )
        for cell, columns in zip(cells, values, strict=True)
    ]
    by_measure = {name: [columns[name] for columns in values] for name in MEASURES}
    short, answers = (list(say(study, cells, by_measure)) for say in (_short, _answers))
    return Found(study, rows, short, answers, by_measure)


def _columns(rows: Sequence[Sequence[float | None]]) -> dict[str, list[float | None]]:
    return {name: [row[place] for row in rows] for place, name in enumerate(MEASURES)}


def series(study: Study) -> list[tuple[dict[str, Choice], list[int]]]:
    """Give the lines of a plot: what is the same along each, and the numbers of its cells."""
    against, varied = study.file.show.against, study.varied
    others = [name for name in varied if name != against]
    cells = list(study.cells())
    return [
        (same, [number for number, cell in enumerate(cells) if same.items() <= cell.items()])
        for values in product(*(varied[name] for name in others))
        for same in [dict(zip(others, values, strict=True))]
    ]


# --- what comes of it, in sentences


def _short(study: Study, cells: list[dict[str, Choice]], columns: Columns) -> Iterator[str]:
    """Say for each measure which of the choices that were tried do best, and which no worse."""
    for measure in study.file.show.measures if study.file.show.against else ():
        for same, numbers in series(study):
            said = _ranked(study, cells, columns, measure, numbers) if measure not in NEITHER else ""
            if said:
                yield _upper(f"{_where(same)}{_lower(SAYS[measure][0])}: {said}")


def _ranked(
    study: Study, cells: list[dict[str, Choice]], columns: Columns, measure: str, numbers: Sequence[int]
) -> str:
    means = {number: mean(columns[measure][number]) for number in numbers}
    reached = {number: found.value for number, found in means.items() if found is not None}
    if len(reached) < len(numbers):
        return ""
    best = min(reached, key=reached.__getitem__)
    apart = {number: difference(columns[measure][best], columns[measure][number]) for number in numbers}
    worse = [number for number, found in apart.items() if found is not None and found.low > 0.0]
    no_worse = [number for number in numbers if number != best and number not in worse]
    sessions = len(columns[measure][best])

    def at(chosen: Sequence[int]) -> str:
        against = study.file.show.against
        values = [told(against, cells[number][against]) for number in chosen]
        listed = " and ".join([", ".join(values[:-1]), values[-1]] if len(values) > 1 else values)
        return f"{listed}{_unit(FACTOR_UNITS.get(against, ''))}"

    value = f"{reached[best]:.{_digits(measure)}f}{_unit(SAYS[measure][1])}"
    if not worse:
        return f"no choice can be told from the best ({at([best])}: {value}) by {sessions} sessions."
    alike = f"; no worse, as far as {sessions} sessions tell, at {at(no_worse)}" if no_worse else ""
    return f"least at {at([best])} ({value}){alike}; worse at {at(worse)}."


def _where(same: dict[str, Choice]) -> str:
    return f"{', '.join(told(name, value) for name, value in same.items())}: " if same else ""


def _lower(text: str) -> str:
    return text[0].lower() + text[1:]


def _upper(text: str) -> str:
    return text[0].upper() + text[1:]


def _answers(study: Study, cells: list[dict[str, Choice]], columns: Columns) -> Iterator[str]:
    """Say what the first and the last value of what is varied differ by, with what certainty."""
    against = study.file.show.against
    for measure in study.file.show.measures if against else ():
        for same, numbers in series(study):
            first, last = columns[measure][numbers[0]], columns[measure][numbers[-1]]
            ends = [told(against, cells[number][against]) for number in (numbers[0], numbers[-1])]
            said = _compared(measure, first, last)
            if said:
                unit = _unit(FACTOR_UNITS.get(against, ""))
                what = f"{_where(same)}{_lower(SAYS[measure][0])}"
                yield _upper(f"{what}, from {ends[0]} to {ends[1]}{unit}: {said}")


def _compared(measure: str, first: Sequence[float | None], last: Sequence[float | None]) -> str:
    low, high, apart = mean(first), mean(last), difference(first, last)
    if low is None or high is None or apart is None:
        return ""
    unit, digits = _unit(SAYS[measure][1]), _digits(measure)
    values = f"{low.value:.{digits}f} to {high.value:.{digits}f}{unit}"
    if apart.low <= 0.0 <= apart.high:
        return f"{values}; no difference can be told from {apart.sessions} sessions."
    interval = f"95 % interval {apart.low:+.{digits}f} to {apart.high:+.{digits}f}"
    said = f"{values}; {apart.value:+.{digits}f}{unit}, {interval}, from {apart.sessions} sessions."
    return said.replace("-", "−")


def _digits(measure: str) -> int:
    return 3 if measure in COUNTED else 2


def spelled(measure: str, estimate: Estimate | None) -> tuple[str, str]:
    """Spell an estimate and its interval."""
    if estimate is None:
        return "–", ""
    digits = _digits(measure)
    return f"{estimate.value:.{digits}f}", f"{estimate.low:.{digits}f}–{estimate.high:.{digits}f}"


def _unit(unit: str) -> str:
    return f" {unit}" if unit else ""


def told(name: str, value: Choice) -> str:
    """Say a choice."""
    if isinstance(value, bool):
        return {"wet": ("dry", "wet"), "stops": ("yellow", "red")}.get(name, ("no", "yes"))[value]
    return f"{value:g}" if isinstance(value, int | float) else str(value)


# --- plots


def plots(result: Found) -> list[tuple[str, str]]:
    """Draw the measures that a study shows, as SVG; each with its title."""
    return [(SAYS[measure][0], _plot(result, measure)) for measure in result.study.file.show.measures]


def _plot(result: Found, measure: str) -> str:
    study = result.study
    against = study.file.show.against
    with paper():
        figure = Figure(figsize=(7.2, 3.4), layout="constrained")
        axes = figure.subplots()
        for number, (same, cells) in enumerate(series(study)):
            _line(axes, result, measure, same, cells, number)
        axes.set_xlabel(FACTOR_SAYS.get(against, "all cells"))
        axes.set_ylabel(SAYS[measure][1] or "a session")
        axes.set_ylim(bottom=0)
        axes.grid(visible=True, axis="y")
        if len(series(study)) > 1:
            axes.legend(frameon=False, fontsize=9)
        out = io.StringIO()
        figure.savefig(out, format="svg", metadata={"Date": None}, facecolor=LIGHT.surface)
    text = out.getvalue()
    return text[text.index("<svg") :]


def _line(
    axes: Any, result: Found, measure: str, same: dict[str, Choice], cells: list[int], number: int
) -> None:
    against = result.study.file.show.against
    points = [
        (result.rows[cell].cell.get(against, ""), result.rows[cell].measures[measure]) for cell in cells
    ]
    reached = [(value, estimate) for value, estimate in points if estimate is not None]
    if not reached:
        return
    xs = _places([value for value, _ in reached], against, number, len(series(result.study)))
    ys = [estimate.value for _, estimate in reached]
    errors = [
        [max(0.0, estimate.value - estimate.low) for _, estimate in reached],
        [max(0.0, estimate.high - estimate.value) for _, estimate in reached],
    ]
    axes.errorbar(
        xs, ys, yerr=errors, marker=MARKS[number % len(MARKS)], linestyle=DASHES[number % len(DASHES)],
        color=(LIGHT.text, LIGHT.muted)[number % 2], capsize=3, linewidth=1.5, markersize=5,
        label=", ".join(told(name, value) for name, value in same.items()),
    )  # fmt: skip


def _places(
    values: Sequence[Choice], against: str, number: int, lines: int
) -> Sequence[float] | Sequence[str]:
    """Give where values stand along the axis: by number, each line a little aside; else by word."""
    numbers = [
        float(value) for value in values if isinstance(value, int | float) and not isinstance(value, bool)
    ]
    if len(numbers) < len(values):
        return [told(against, value) for value in values]
    aside_by = DODGE * (max(numbers) - min(numbers)) * (number - (lines - 1) / 2)
    return [value + aside_by for value in numbers]


# --- the page

TEMPLATE = Path(__file__).parent / "report.html.j2"


def page(result: Found, venue: Venue) -> str:
    """Write the report as one HTML page that needs nothing else."""
    study = result.study
    template = Environment(autoescape=True, trim_blocks=True).from_string(
        TEMPLATE.read_text(encoding="utf-8")
    )
    return template.render(
        study=study,
        venue=venue,
        look=LIGHT,
        rows=result.rows,
        short=result.short,
        answers=result.answers,
        plots=[(title, Markup(svg)) for title, svg in plots(result)],  # noqa: S704 - drawn by us
        names=list(study.varied),
        factors=FACTOR_SAYS,
        measures=[name for name in MEASURES if any(row.measures[name] for row in result.rows)],
        says=SAYS,
        told=told,
        spelled=spelled,
        sessions=min((row.sessions for row in result.rows), default=0),
        digest=study.digest(venue.digest, model_digest()),
    )
