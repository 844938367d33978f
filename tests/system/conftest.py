from __future__ import annotations

import time
from collections.abc import Iterator
from typing import Any

import pytest

from tests.system.outside import Listener, Post, Run, patient_venue
from tests.system.racing import LOOK_AGAIN_S, LOOKED, PERSIST_S, key_of, lift_equipments


@pytest.fixture(scope="session")
def run(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Run]:
    """One venue for all tests that leave it as they found it."""
    folder = tmp_path_factory.mktemp("run")
    venue = str(patient_venue(folder))
    with Run(folder / "data", "--headless", "--broker", "mosquitto", "--venue", venue).started() as started:
        yield started


@pytest.fixture(scope="session")
def everything(run: Run) -> Iterator[Listener]:
    """The race desk's ear, from the beginning."""
    with Listener(run, "post-desk") as listener:
        yield listener


@pytest.fixture
def desk(run: Run, everything: Listener) -> Iterator[Post]:
    """The race desk of a closed venue with no holds; afterwards it is so again."""
    desk = Post(run, "desk", everything)
    go_home(run, desk, everything)
    yield desk
    go_home(run, desk, everything)


@pytest.fixture
def p1(run: Run, everything: Listener, desk: Post) -> Post:
    """A marshal's post."""
    return Post(run, "p1", everything)


def go_home(run: Run, desk: Post, listener: Listener) -> None:
    """Lift what stands, clear, close, until it is so: what equipment places in between is lifted too."""
    deadline = time.monotonic() + PERSIST_S
    while not is_home(listener.says("state")):
        assert time.monotonic() < deadline, listener.says("state")
        for hold in listener.says("state")["holds"]:
            if hold["post"] not in ("E", None):
                desk.call("lift", hold=key_of(hold), **LOOKED)
        lift_equipments(run, desk, listener)
        if listener.says("state")["phase"] != "closed":
            desk.call("close")
        listener.until(lambda: is_home(listener.says("state")), LOOK_AGAIN_S)


def is_home(state: dict[str, Any]) -> bool:
    """Whether nothing stands and every head shows what it is told."""
    shows = all(head["shown"] == head["aspect"] for head in state["heads"].values())
    return state["phase"] == "closed" and state["condition"] == "clear" and not state["holds"] and shows
