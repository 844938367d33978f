"""One compiled core a venue: a core is pure, so every controller may share it."""

from __future__ import annotations

import pytest

from signals.controller import service
from tests.sequence.playing import core_for


@pytest.fixture(autouse=True)
def _one_core(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(service, "Core", core_for)
