from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from signals.errors import BadInput, Finding
from signals.venue import load
from signals.venue.model import Venue

SMALL = (Path(__file__).parent / "small.toml").read_text(encoding="utf-8")

Plant = Callable[..., Path]
Mistakes = Callable[[Path], list[Finding]]


@pytest.fixture
def plant(tmp_path: Path) -> Plant:
    """Write the small venue with some of its text replaced: pairs (old, new), each found exactly once."""

    def write(*swaps: tuple[str, str], more: str = "") -> Path:
        text = SMALL
        for old, new in swaps:
            assert text.count(old) == 1, f"{old!r} stands {text.count(old)} times in small.toml"
            text = text.replace(old, new)
        path = tmp_path / "planted.toml"
        path.write_text(text + more, encoding="utf-8")
        return path

    return write


@pytest.fixture
def mistakes() -> Mistakes:
    """Load a file that must not load, and give what was found."""

    def found(path: Path) -> list[Finding]:
        with pytest.raises(BadInput) as raised:
            load(path)
        return raised.value.findings

    return found


@pytest.fixture
def small(plant: Plant) -> Venue:
    return load(plant())
