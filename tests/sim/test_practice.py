"""The practice file: what happened in a world and what its referee saw, line by line."""

from __future__ import annotations

import asyncio
from pathlib import Path
from typing import Any

import async_solipsism
import msgspec
import pytest

from signals.mqtt.access import access_list
from signals.mqtt.contract import Inject, WorldFinding, WorldView
from signals.mqtt.link import Credentials, Owner, user_of
from signals.mqtt.memory import MemoryBroker
from signals.mqtt.topics import Topics
from signals.venue.model import Venue
from sim.practice import NAME, Began, Happened, Practice, Seen, read
from sim.world import World


async def told(venue: Venue, folder: Path, seconds: float) -> list[WorldView]:
    """Run a world in which a kart rolls out against everything and cuts a corner; gives what it said."""
    broker = MemoryBroker(access_list(venue))
    topics = Topics.of(venue.id, simulated=venue.simulated)

    def link(client: str, **more: Any) -> Any:
        return broker.link(client, **{**more, "credentials": Credentials(user_of(client), "")})

    views: list[WorldView] = []
    owner = Owner(on_message=lambda each: views.append(msgspec.json.decode(each.payload, type=WorldView)))
    with Practice(folder / NAME) as practice:
        world = World(venue, link, seed=5, practice=practice)
        reader = link("reader", subscriptions=((topics.name("world"), 0),), owner=owner)
        instructor = link("instructor")
        ready = asyncio.Event()
        tasks = [
            asyncio.ensure_future(part) for part in (world.run(ready.set), reader.run(), instructor.run())
        ]
        await ready.wait()
        asked = (("person-in-pit", None), ("kart-enters", 3), ("hail", None), ("shortcut", 3))
        for number, (event, kart) in enumerate(asked):
            inject = Inject(id=f"e{number}", event=event, kart=kart)
            instructor.publish(topics.name("inject", "world"), msgspec.json.encode(inject), qos=1)
            await asyncio.sleep(2.0)
        await asyncio.sleep(seconds)
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)
    return views


@pytest.fixture
def views(venue: Venue, tmp_path: Path) -> list[WorldView]:
    with asyncio.Runner(loop_factory=async_solipsism.EventLoop) as runner:
        return runner.run(told(venue, tmp_path, 5.0))


def test_a_world_writes_down_its_beginning_and_what_befell_it(views: list[WorldView], tmp_path: Path) -> None:
    lines = read(tmp_path / NAME)
    assert lines[0] == Began(at_ms=lines[0].at_ms, venue="harbour-loop", seed=5, incidents={})  # type: ignore[union-attr]
    happened = [(line.event, line.kart) for line in lines if isinstance(line, Happened)]
    assert happened[:2] == [("visitor on foot", None), ("kart-enters", 3)]
    assert "hail" not in dict(happened), "what could not be did not happen"
    assert any(view.people for view in views)


def test_what_the_referee_saw_is_in_world_and_in_the_file(views: list[WorldView], tmp_path: Path) -> None:
    seen = [line.finding for line in read(tmp_path / NAME) if isinstance(line, Seen)]
    assert seen, "a kart that cuts a corner is seen"
    assert {finding.rule for finding in seen} == {"white-line"}
    in_world = {finding.id: finding for view in views for finding in view.seen}
    assert list(in_world.values()) == seen
    assert [finding.id for finding in seen] == list(range(1, len(seen) + 1))


def test_a_second_world_adds_to_the_file(tmp_path: Path) -> None:
    for seed in (1, 2):
        with Practice(tmp_path / NAME) as practice:
            practice.write(Began(at_ms=1, venue="harbour-loop", seed=seed, incidents={"spin": 6.0}))
    assert [line.seed for line in read(tmp_path / NAME) if isinstance(line, Began)] == [1, 2]


def test_a_line_that_is_none_of_ours_is_not_swallowed(tmp_path: Path) -> None:
    (tmp_path / NAME).write_text('{"kind": "seen", "time_s": 1}\n')
    with pytest.raises(msgspec.DecodeError):
        read(tmp_path / NAME)


def test_findings_fit_what_screens_read() -> None:
    finding = WorldFinding(
        id=1, at_ms=1, rule="overtaking", karts=[1, 2], where="s3", at_m=150.0, said="x" * 200
    )
    assert len(msgspec.json.encode([finding] * 12)) < 8192
