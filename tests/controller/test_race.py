"""A session over the bus: what people and drivers get to see."""

from __future__ import annotations

from pathlib import Path

from signals.words import Aspect, Phase
from tests.controller.town import Town, virtual


@virtual
async def test_a_group_races(tmp_path: Path) -> None:
    async with Town(tmp_path) as town:
        assert town.state.phase is Phase.CLOSED
        assert not town.state.holds, town.state.holds
        assert town.all_shown == {Aspect.DARK, Aspect.RED}
        await town.race(1)
        assert town.state.phase is Phase.RACING
        await town.until(lambda: town.all_shown == {Aspect.GREEN})
        await town.until(lambda: town.takes(1) == 45.0)
