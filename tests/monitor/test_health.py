"""What the monitor says of its own health."""

from __future__ import annotations

import asyncio

import pytest

from signals.monitor.service import TOLD_MAX
from signals.mqtt.link import Arrived
from tests.monitor.stage import Stage
from tests.virtual import virtual


@virtual
async def test_it_tells_how_much_it_watches_and_what_it_tripped_on() -> None:
    async with Stage() as stage:
        await asyncio.sleep(1)
        calm = stage.monitor.health()
        assert (
            calm.says == f"watching {len(stage.venue.heads)} heads, {len(stage.venue.karts)} karts; no faults"
        )
        assert calm.well
        assert calm.alive
        head = stage.venue.heads[0].id
        stage.show(head, "green")
        await asyncio.sleep(1)
        tripped = stage.monitor.health()
        assert tripped.says.startswith(f"TRIPPED: {head}: ")
        assert tripped.says.endswith("shown green")
        assert not tripped.well
        assert {figure.name: figure.value for figure in tripped.figures}["tripped"] == 1


@virtual
async def test_a_flood_of_nonsense_is_counted_and_logged_once(caplog: pytest.LogCaptureFixture) -> None:
    async with Stage() as stage:
        await asyncio.sleep(1)
        before, topic = stage.monitor.refused.total(), stage.topics.name("call", stage.venue.posts[0].id)
        for number in range(1000):
            stage.monitor._hear(Arrived(topic, b"nonsense", 1))
            stage.monitor._hear(Arrived(topic, b'{"x%d":1}' % number, 1))
        assert stage.monitor.refused.total() - before == 2000
        told = [record for record in caplog.records if record.getMessage().startswith("refused ")]
        assert 2 <= len(told) <= TOLD_MAX
