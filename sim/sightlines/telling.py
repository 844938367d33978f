"""What a survey found, as plain values for JSON, as rows for CSV, and as tables for people."""

from __future__ import annotations

import csv
import math
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from rich.console import Console
from rich.table import Table

from signals.venue.model import Head
from signals.venue.sight import BEAM_DEG, VIEW_DEG
from sim.sight import FARTHEST_M
from sim.sightlines.propose import Proposal
from sim.sightlines.survey import NOBODY, Stretch, Survey, View

COLUMNS = ("surface", "eye_m", "at_m", "speed_kmh", "head", "sight_m", "stopping_m", "state")


# --- plain values


def plain(survey: Survey, views: Sequence[View], proposal: Proposal | None) -> dict[str, Any]:
    """Give everything as JSON values."""
    return {
        "venue": survey.venue.id,
        "length_m": round(survey.venue.length_m, 1),
        "assumed": assumed(survey),
        "conditions": [_view(view) for view in views],
        "proposal": None if proposal is None else _proposal(proposal),
    }


def assumed(survey: Survey) -> dict[str, float]:
    """Give the numbers that everything rests on."""
    return {
        "view_deg": VIEW_DEG,
        "beam_deg": BEAM_DEG,
        "farthest_m": FARTHEST_M,
        "reaction_s": survey.reaction_s,
        "brake_dry_mps2": round(survey.stopping(wet=False).brake_mps2, 2),
        "brake_wet_mps2": round(survey.stopping(wet=True).brake_mps2, 2),
    }


def _view(view: View) -> dict[str, Any]:
    return {
        "surface": view.condition.surface,
        "eye_m": view.condition.eye_m,
        "karts_ahead": view.condition.traffic,
        **_shares(view),
        "blind": [_stretch(each) for each in view.blind_stretches],
        "late": [_stretch(each) for each in view.late_stretches],
        "heads": [
            {
                "head": each.head,
                "at_m": each.at_m,
                "seen_from_m": each.from_m,
                "seen_to_m": each.to_m,
                "needed_m": each.needed_m if math.isfinite(each.needed_m) else None,
                "in_time": each.in_time,
            }
            for each in view.sightings
        ],
    }


def _shares(view: View) -> dict[str, float]:
    return {
        "seen": round(view.seen_share, 4),
        "in_time": round(view.in_time_share, 4),
        "longest_blind_s": view.longest_blind_s,
    }


def _stretch(stretch: Stretch) -> dict[str, Any]:
    return {
        "from_m": stretch.from_m,
        "to_m": stretch.to_m,
        "length_m": stretch.length_m,
        "seconds": stretch.seconds,
        "sectors": list(stretch.sectors),
    }


def _proposal(proposal: Proposal) -> dict[str, Any]:
    return {
        "candidates": proposal.candidates,
        "kept": [head.id for head in proposal.kept],
        "heads": [_head(head) for head in proposal.heads],
        "present": _shares(proposal.present),
        "even": _shares(proposal.even),
        "proposed": _shares(proposal.proposed),
        "blind": [_stretch(each) for each in proposal.proposed.blind_stretches],
    }


def _head(head: Head) -> dict[str, Any]:
    keys = ("id", "at_m", "side", "offset_m", "height_m", "facing_deg")
    return {key: getattr(head, key) for key in keys} | {"protects": list(head.protects)}


def write_table(views: Sequence[View], file: Path) -> None:
    """Write a row for every place under every condition."""
    with file.open("w", newline="", encoding="utf-8") as out:
        rows = csv.writer(out, lineterminator="\n")
        rows.writerow(COLUMNS)
        for view in views:
            rows.writerows(_rows(view))


def _rows(view: View) -> Iterator[tuple[object, ...]]:
    for number, at_m in enumerate(view.at_m):
        nearest = int(view.nearest[number])
        state = "blind" if view.blind[number] else "late" if view.late[number] else "in time"
        yield (
            view.condition.surface,
            view.condition.eye_m,
            round(float(at_m), 2),
            round(float(view.v_mps[number]) * 3.6, 1),
            "" if nearest == NOBODY else view.heads[nearest].id,
            "" if nearest == NOBODY else round(float(view.sight_m[number]), 1),
            round(float(view.stopping_m[number]), 1),
            state,
        )


# --- tables


def tell(console: Console, survey: Survey, views: Sequence[View]) -> None:
    """Show what is seen under every condition, then what is amiss under the worst."""
    console.print(_conditions(survey, views))
    worst = min(views, key=lambda view: (view.seen_share, view.in_time_share))
    for title, stretches in (
        ("Blind: no head is seen", worst.blind_stretches),
        ("Late: no head is seen that speaks for where a kart would stand", worst.late_stretches),
    ):
        if stretches:
            console.print(_stretches(survey, f"{title} ({worst.condition})", stretches))
    console.print(_sightings(worst))
    numbers = assumed(survey)
    console.print(
        f"Counted on: heads within {numbers['view_deg']:g}° of the driving direction and"
        f" {numbers['beam_deg']:g}° of where they shine, to {numbers['farthest_m']:g} m;"
        f" {numbers['reaction_s']:g} s until the brakes bite, {numbers['brake_dry_mps2']:g} m/s² dry,"
        f" {numbers['brake_wet_mps2']:g} wet. The limiter slows by itself besides."
    )


def _conditions(survey: Survey, views: Sequence[View]) -> Table:
    table = _table(
        f"{survey.venue.name}, {len(views[0].heads)} heads",
        "condition",
        "seen",
        "in time",
        "blind",
        "longest",
    )
    for view in views:
        table.add_row(str(view.condition), *_cells(view))
    return table


def _cells(view: View) -> tuple[str, ...]:
    metres = sum(stretch.length_m for stretch in view.blind_stretches)
    return (
        f"{view.seen_share:.1%}",
        f"{view.in_time_share:.1%}",
        f"{metres:.0f} m",
        f"{view.longest_blind_s:.1f} s",
    )


def _stretches(survey: Survey, title: str, stretches: Sequence[Stretch]) -> Table:
    table = _table(title, "sector", "from", "to", "length", "for")
    for each in stretches:
        table.add_row(
            survey.names(each.sectors),
            f"{each.from_m:.0f} m",
            f"{each.to_m:.0f} m",
            f"{each.length_m:.0f} m",
            f"{each.seconds:.1f} s",
        )
    return table


def _sightings(view: View) -> Table:
    table = _table(
        f"How far before it each head is seen ({view.condition})",
        "head",
        "at",
        "from",
        "to",
        "needed",
        "in time",
    )
    for each in view.sightings:
        told = ("–", "–") if each.from_m is None else (f"{each.from_m:.0f} m", f"{each.to_m:.0f} m")
        needed = f"{each.needed_m:.0f} m" if math.isfinite(each.needed_m) else "–"
        table.add_row(each.head, f"{each.at_m:g} m", *told, needed, "yes" if each.in_time else "NO")
    return table


def tell_proposal(console: Console, proposal: Proposal, toml: str) -> None:
    """Show what a proposal gains, and the heads as a venue file has them."""
    count = len(proposal.heads)
    table = _table(
        f"Proposed: the best {count} of {proposal.candidates} places ({proposal.proposed.condition})",
        "heads", "seen", "in time", "blind", "longest",
    )  # fmt: skip
    kept = f"{len(proposal.kept)} + " if proposal.kept else ""
    table.add_row(f"{len(proposal.present.heads)} as they stand", *_cells(proposal.present))
    table.add_row(f"{kept}{count} evenly spaced", *_cells(proposal.even))
    table.add_row(f"{kept}{count} proposed", *_cells(proposal.proposed))
    console.print(table)
    console.print(toml, markup=False, end="")


def _table(title: str, *columns: str) -> Table:
    table = Table(title=title, title_justify="left", title_style="bold")
    for number, column in enumerate(columns):
        table.add_column(column, justify="right" if number else "left")
    return table
