"""The two venues that come along, and a desk to tell stories to; no display is needed."""

from __future__ import annotations

import os

os.environ.setdefault("SDL_VIDEODRIVER", "dummy")
os.environ.setdefault("PYGAME_HIDE_SUPPORT_PROMPT", "1")

import pytest

from signals.cli.options import configs
from signals.venue import load
from signals.venue.model import Venue
from tests.sim.story import Story


@pytest.fixture(scope="session")
def venue() -> Venue:
    return load(configs() / "harbour-loop.toml")


@pytest.fixture(scope="session")
def quarry() -> Venue:
    return load(configs() / "quarry-ring.toml")


@pytest.fixture
def story(venue: Venue) -> Story:
    return Story(venue)
