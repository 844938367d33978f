from __future__ import annotations

import time
from collections.abc import Iterator

import pytest

from tests.panel.court import WITHIN_S, Court, Visitor


@pytest.fixture(scope="session")
def _court(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Court]:
    with Court(tmp_path_factory.mktemp("panel")) as court:
        yield court


@pytest.fixture
def court(_court: Court) -> Iterator[Court]:
    """A closed venue with nothing standing; afterwards it is so again."""
    go_home(_court)
    yield _court
    go_home(_court)


@pytest.fixture
def desk(court: Court) -> Iterator[Visitor]:
    visitor = court.at("desk", "Mika Sandbrook")
    yield visitor
    visitor.close()


@pytest.fixture
def p1(court: Court) -> Iterator[Visitor]:
    visitor = court.at("p1", "Tove Merriweather")
    yield visitor
    visitor.close()


def go_home(court: Court) -> None:
    """Lift what stands, clear, close, until it is so."""
    desk, deadline = court.at("desk"), time.monotonic() + WITHIN_S
    try:
        while True:
            desk.look()
            state = court.site._stations.of("desk").picture.state
            if state.monitor == "tripped":
                desk.http.post("/reset", headers={"x-kerblight": desk.csrf})
            if state.phase == "closed" and not state.holds:
                return
            assert time.monotonic() < deadline, state
            for hold in state.holds:
                if hold.what == "recovery":
                    desk.call("clear", checked=True)
                else:
                    key = ":".join(part for part in (hold.what, hold.where, hold.post) if part)
                    desk.call("lift", hold=key, checked=True, reason="all stand")
            if state.phase != "closed":
                desk.call(
                    "disarm" if state.phase == "armed" else "finish" if state.phase == "racing" else "close"
                )
    finally:
        desk.close()
