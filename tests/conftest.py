from __future__ import annotations

import logging
from collections.abc import Iterator

import pytest


@pytest.fixture(autouse=True)
def logging_as_it_was() -> Iterator[None]:
    """What one test keeps quiet, the next may want to hear."""
    yield
    logging.disable(logging.NOTSET)
