"""What the monitor says of its own health."""

from __future__ import annotations

import asyncio

from tests.controller.town import virtual
from tests.monitor.stage import Stage


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
