from __future__ import annotations

import logging
from collections.abc import Iterator

import pytest


@pytest.fixture(autouse=True)
def logging_as_it_was() -> Iterator[None]:
    """What one test keeps quiet, the next may want to hear."""
    levels = {each: each.level for each in loggers()}
    yield
    logging.disable(logging.NOTSET)
    for each in loggers():
        each.setLevel(levels.get(each, logging.NOTSET))


def loggers() -> list[logging.Logger]:
    """Give the product's own."""
    known = logging.root.manager.loggerDict.items()
    return [each for name, each in known if name.startswith("signals") and isinstance(each, logging.Logger)]
