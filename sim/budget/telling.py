"""A response budget told: tables and sentences for people, plain values for JSON."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, NamedTuple

from rich.console import Console
from rich.table import Table

from signals.venue.model import Venue
from sim.budget.computed import Computed, Way
from sim.budget.played import Acting, Check, Played, Spread, checks
from sim.study.desk import KMH
from sim.study.tally import STILL_MPS

CAUTION = (
    "A model of invented drivers: it ranks choices, it is no evidence about a real kart or track. Not an "
    "emergency stop and not safety-rated; local codes and licensed practice decide."
)


class Budget(NamedTuple):
    """A budget by arithmetic, and what sessions gave where some were played."""

    computed: Computed
    played: Played | None


def word(computed: Computed) -> str:
    """Say what is called."""
    return "red" if computed.asked.stops else "yellow"


# --- for people


def tell(screen: Console, venue: Venue, budgets: Sequence[Budget]) -> None:
    """Print tables and sentences."""
    for budget in budgets:
        screen.print(_terms(venue, budget))
        screen.print(_ways(budget))
        if budget.played is not None:
            screen.print(_checks(checks(budget.computed, budget.played)))
        for sentence in sentences(budget):
            screen.print(sentence)
        screen.print()
    screen.print(_sources(budgets[0].computed))
    screen.print(CAUTION)


def _table(title: str, *columns: str) -> Table:
    table = Table(title=title, title_justify="left", title_style="bold")
    table.add_column("")
    for name in columns:
        table.add_column(name, justify="right", no_wrap=True)
    return table


VALUES = ("typical", "late", "simulated", "95 in 100")
"""By arithmetic, and of sessions."""


def _terms(venue: Venue, budget: Budget) -> Table:
    asked = budget.computed.asked
    surface = "wet" if asked.wet else "dry"
    table = _table(f"{venue.name}, {surface}: {word(budget.computed)} is called; seconds", *VALUES)
    for term in budget.computed.terms:
        found = budget.played.term(term.name) if budget.played else None
        simulated = ("–", "–") if found is None else (f"{found.median:.2f}", f"{found.late:.2f}")
        table.add_row(term.name, f"{term.typical_s:.2f}", f"{term.late_s:.2f}", *simulated)
    return table


def _ways(budget: Budget) -> Table:
    ends = "stands" if budget.computed.slow_mps <= STILL_MPS else "is slow"
    table = _table(f"From the call until the first kart behind {ends}", *VALUES)
    for acting, way in _computed_ways(budget.computed):
        computed = ("–", "–")
        if way is not None:
            computed = _both(way.typical_s, way.typical_m), _both(way.late_s, way.late_m)
        name = "both" if way is None else f"by the {acting} alone"
        table.add_row(name, *computed, *_simulated(budget.played, acting))
    return table


def _simulated(played: Played | None, acting: Acting) -> tuple[str, str]:
    seconds, metres = (played.seconds(acting), played.metres(acting)) if played else (None, None)
    if seconds is None or metres is None:
        return "–", "–"
    return _both(seconds.median, metres.median), _both(seconds.late, metres.late)


def _both(seconds: float, metres: float) -> str:
    return f"{seconds:.1f} s, {metres:.0f} m"


def _checks(found: Sequence[Check]) -> Table:
    columns = ("computed", "simulated", "difference", "by")
    table = _table("Simulated against computed, at the speeds that were driven", *columns)
    for check in found:
        values = (f"{value:.2f} {check.unit}" for value in (check.computed, check.simulated))
        table.add_row(check.says, *values, f"{check.difference:+.0%}", check.source)
    return table


def _sources(computed: Computed) -> Table:
    table = Table(title="Known from", title_justify="left", title_style="bold", box=None, show_header=False)
    for term in computed.terms:
        table.add_row(term.name, term.source)
    return table


def sentences(budget: Budget) -> Iterator[str]:
    """Say what the numbers come to."""
    computed = budget.computed
    kmh, (before_m, late_m) = computed.fastest_mps * KMH, computed.before_call_m
    yield (
        f"The fastest kart ({kmh:.0f} km/h) goes {before_m:.0f} m until the post calls, {late_m:.0f} m "
        "where it is late: until then nothing but its driver's own eyes helps."
    )
    yield _unaware(budget)
    slows, driver = "stops" if computed.slow_mps <= STILL_MPS else "slows", computed.driver
    reaches = f"; the venue's cautions reach {computed.reach_m:.0f} m back, {_enough(computed)}"
    yield (
        f"Its limiter alone then {slows} it within {computed.limiter.late_m:.0f} m"
        f"{'' if computed.asked.stops else reaches}."
    )
    yield (
        f"Its driver alone {slows} it within {driver.typical_m:.0f} m, {driver.late_m:.0f} m where "
        "everything is late."
    )


def _unaware(budget: Budget) -> str:
    computed, played = budget.computed, budget.played
    played_share = f" ({100 * played.unaware:.0f} of the first karts behind, simulated)" if played else ""
    return (
        f"Of drivers less than {computed.reach_m:.0f} m before the place {100 * computed.unaware:.0f} in 100"
        f"{played_share} pass no head any more that tells them: limiter and eyes alone help."
    )


def _enough(computed: Computed) -> str:
    if computed.kept:
        return "which is enough"
    return "which is NOT enough: take a steeper `ramp`, a lower class limit, or more `timing_ms.reaction`"


# --- plain values


def plain(venue: Venue, budgets: Sequence[Budget]) -> dict[str, Any]:
    """Give everything as JSON values."""
    return {"venue": venue.id, "budgets": [_plain(budget) for budget in budgets]}


def _plain(budget: Budget) -> dict[str, Any]:
    computed, played = budget.computed, budget.played
    return {
        "called": word(computed),
        "surface": "wet" if computed.asked.wet else "dry",
        "fastest_kmh": round(computed.fastest_mps * KMH, 1),
        "slow_kmh": round(computed.slow_mps * KMH, 1),
        "fall_mps2": computed.fall_mps2,
        "brake_mps2": round(computed.brake_mps2, 2),
        "reach_m": round(computed.reach_m, 1),
        "before_call_m": [round(each, 1) for each in computed.before_call_m],
        "kept": computed.kept,
        "unaware": {"computed": computed.unaware, "simulated": played.unaware if played else None},
        "terms": [
            {
                "until": term.name,
                "typical_s": round(term.typical_s, 3),
                "late_s": round(term.late_s, 3),
                "source": term.source,
                "simulated": _values(played.term(term.name) if played else None),
            }
            for term in computed.terms
        ],
        "ways": {
            acting.value: {
                "computed": None if way is None else way._asdict(),
                "simulated_s": _values(played.seconds(acting) if played else None),
                "simulated_m": _values(played.metres(acting) if played else None),
            }
            for acting, way in _computed_ways(computed)
        },
        "checks": [
            check._asdict() | {"difference": check.difference}
            for check in (checks(computed, played) if played else ())
        ],
        "sentences": list(sentences(budget)),
    }


def _computed_ways(computed: Computed) -> Iterator[tuple[Acting, Way | None]]:
    yield Acting.LIMITER, computed.limiter
    yield Acting.DRIVER, computed.driver
    yield Acting.BOTH, None


def _values(found: Spread | None) -> dict[str, float] | None:
    return None if found is None else found._asdict()
