"""The walk in virtual time: devices in memory with planted faults, a tester who sees only their lamps."""

from __future__ import annotations

from pathlib import Path

from tests.opening.town import in_virtual_time, morning, walked


def test_everything_is_walked_and_in_order(tmp_path: Path) -> None:
    async def whole() -> None:
        async with morning(tmp_path) as here:
            walk = here.walk()
            assert await walk.begin() == ()
            await walked(walk, here.tester)
            await walk.rest()
            short = [found for found in here.found if found.outcome != "passed"]
            assert short == []
            assert {found.row for found in here.found} == {row.id for row in walk.sheet.rows}
            for f in here.found:
                print(f.row, "|", f.expected, "|", f.observed, "|", f.method, f.ms)

    in_virtual_time(whole)
