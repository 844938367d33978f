"""The venues that come along, and their cores: published values are checked on what is configured."""

from __future__ import annotations

from functools import cache
from typing import Any

import pytest

from signals.cli.options import configs
from signals.controller.layout import layout_of
from signals.core.machine import Core
from signals.core.state import Decision
from signals.venue import load
from signals.venue.model import Venue
from tests.core.conftest import Session as SmallSession


@cache
def venue_named(name: str) -> Venue:
    return load(configs() / f"{name}.toml")


@cache
def core_of(name: str) -> Core:
    return Core(layout_of(venue_named(name), now_ms=0))


class Session(SmallSession):
    """Calls by the venue's first supervisor where no post is named, whatever that post is called."""

    def call(self, word: str, post: str = "desk", **fields: Any) -> Decision:
        layout = self.core.layout
        desk = next(each for each in layout.posts if each in layout.supervisors)
        return super().call(word, desk if post == "desk" else post, **fields)


@pytest.fixture
def venue() -> Venue:
    return venue_named("harbour-loop")


@pytest.fixture(params=["harbour-loop", "quarry-ring"])
def each_venue(request: pytest.FixtureRequest) -> Venue:
    return venue_named(request.param)


@pytest.fixture
def session() -> Session:
    """A session of the demo venue; adults in karts 1 and 2 unless a test says otherwise."""
    return Session(core_of("harbour-loop"))
