"""The venue in virtual time, held to what `run` does with processes."""

from __future__ import annotations

from pathlib import Path

from signals.cli.broker import Embedded
from signals.cli.options import Address, configs
from signals.cli.recipes import Wanted, recipes
from signals.sequence.stage import ORDER, Stage
from signals.venue import load
from tests.virtual import in_virtual_time

WORLD = {"sim": "world"}
"""The process that has the world has its window too."""


def test_parts_start_in_the_order_of_the_processes(tmp_path: Path) -> None:
    wanted = Wanted(
        venue=configs() / "harbour-wired.toml",
        data=tmp_path,
        broker=Address("127.0.0.1", 1),
        embedded=Embedded.EMBEDDED,
        wired=True,
    )
    spawned = [WORLD.get(recipe.name, recipe.name) for recipe in recipes(wanted)]
    assert spawned == ["broker", *ORDER]


def test_a_stage_starts_them_in_that_order() -> None:
    venue = load(configs() / "harbour-loop.toml")

    async def names() -> tuple[list[str], list[str]]:
        async with Stage(venue) as stage:
            return list(stage._runs), [name for name in ORDER if name != "outputs"]

    started, due = in_virtual_time(names)
    assert started == due, "outputs are for a venue that is wired"
