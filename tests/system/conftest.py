from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from tests.system.outside import Listener, Post, Run
from tests.system.racing import LOOKED, key_of, persist


@pytest.fixture(scope="session")
def run(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Run]:
    """One venue for all tests that leave it as they found it."""
    data = tmp_path_factory.mktemp("run") / "data"
    with Run(data, "--headless", "--broker", "mosquitto").started() as started:
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
    """Reset the monitor, lift what stands, clear, close; the desk may all of it."""
    if listener.says("state")["monitor"] == "tripped":
        print(listener.says("monitor/trip"))
        run.publish("post-desk", "monitor/reset/desk", b'{"reason":"looked at every head"}')
    for hold in listener.says("state")["holds"]:
        if hold["what"] != "recovery":
            persist(run, desk, listener, "lift", hold=key_of(hold), **LOOKED)
    if listener.says("state")["holds"]:
        persist(run, desk, listener, "clear", checked=True)
    if listener.says("state")["phase"] != "closed":
        persist(run, desk, listener, "close")
    assert listener.until(lambda: is_home(listener.says("state"))), listener.says("state")


def is_home(state: dict[str, Any]) -> bool:
    """Whether nothing stands and every head shows what it is told."""
    shows = all(head["shown"] == head["aspect"] for head in state["heads"].values())
    return state["phase"] == "closed" and state["condition"] == "clear" and not state["holds"] and shows
