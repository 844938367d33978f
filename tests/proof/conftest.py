"""One compiled core a venue: a core is pure, so the service and its shadow may share it."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from signals.controller import service
from tests.sequence.playing import core_for


@pytest.fixture(autouse=True, scope="session")
def _one_core() -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(service, "Core", core_for)
        yield
