"""The rules of the test venue are compiled once: a core is pure, so every controller may share it."""

from __future__ import annotations

from functools import cache

import pytest

from signals.controller import service
from signals.controller.layout import layout_of
from signals.core.machine import Core
from signals.core.state import Layout
from tests.controller.made import harbour
from tests.controller.town import UTC_MS


@cache
def core() -> Core:
    return Core(layout_of(harbour(), UTC_MS))


@pytest.fixture(autouse=True)
def _shared_core(monkeypatch: pytest.MonkeyPatch) -> None:
    def shared(layout: Layout) -> Core:
        assert layout == core().layout
        return core()

    monkeypatch.setattr(service, "Core", shared)
