"""What drills leave in the data folder beside the database: tapes, calls, debriefs; found by name."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import msgspec

from sim.drill.tape import Head, read

RUNS = "drills"
"""Folder of tapes, calls and reports in the data folder."""


def tapes_of(data: Path, name: str) -> Iterator[tuple[Path, Head]]:
    """Give somebody's tapes in a data folder, with what each is of; what is no tape is left alone."""
    for path in sorted((data / RUNS).glob("*.tape")):
        try:
            head = read(path).head
        except (OSError, ValueError):
            continue
        if _seats(head, name):
            yield path, head


def forget(data: Path, name: str) -> list[Path]:
    """Delete somebody's tapes, calls and debriefs; a tape that others are on too only loses the name."""
    gone = []
    for path, head in list(tapes_of(data, name)):
        seats = _seats(head, name)
        if len(seats) == len(head.seats):
            gone += _unlink(
                [path, *path.parent.glob(f"{path.stem}.toml"), *path.parent.glob(f"{path.stem}*.html")]
            )
            continue
        tape = read(path)
        others = {seat: "" if seat in seats else who for seat, who in head.seats.items()}
        tape.head = msgspec.structs.replace(head, seats=others)
        tape.save(path)
        gone += _unlink(path.with_name(f"{path.stem}-{seat}.html") for seat in seats)
    return gone


def _seats(head: Head, name: str) -> list[str]:
    return [seat for seat, who in head.seats.items() if who.casefold() == name.casefold()]


def _unlink(paths: Iterator[Path] | list[Path]) -> list[Path]:
    gone = [path for path in paths if path.exists()]
    for path in gone:
        path.unlink()
    return gone
