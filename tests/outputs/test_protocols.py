"""Backends of other distributions: found by their entry point, held to what ours are held to."""

from __future__ import annotations

import asyncio
import shutil
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import msgspec
import pytest

from signals.errors import Unusable
from signals.outputs.line import Line
from signals.outputs.plant import Plant
from signals.outputs.protocols import protocols
from signals.venue import load
from signals.venue.wires import Wire, read_wires, write_wires
from signals.wiring.lint import lint

CONFIGS = Path(__file__).parents[2] / "configs"
THEIRS = '''
"""A field bus that nobody else knows: it hands whole images to whoever listens."""

from signals.outputs.base import Output
from signals.outputs.protocols import PointType, Protocol

HEARD = []


class Lantern(Output):
    async def _open(self):
        pass

    async def _write(self, raw):
        HEARD.append({point.address: value for point, value in raw.items()})

    async def _close(self, *, final):
        pass


LANTERN = Protocol(
    name="lantern",
    backend="lantern:Lantern",
    points={"glass": PointType(direction="out", highest=31)},
    needs=frozenset({"host"}),
)
OURS = Protocol(name="virtual", backend="lantern:Lantern", points={})
NONE = "no protocol"
GONE = Protocol(name="lantern", backend="lantern_driver:Gone", points={})
'''
Install = Callable[..., None]


@pytest.fixture
def install(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Install]:
    """Install a distribution with these entry points, as a package manager does, for one test."""

    def installed(**points: str) -> None:
        (tmp_path / "lantern.py").write_text(THEIRS, encoding="utf-8")
        about = tmp_path / "lantern-1.0.dist-info"
        about.mkdir()
        (about / "METADATA").write_text("Name: lantern\nVersion: 1.0\n", encoding="utf-8")
        lines = "".join(f"{name} = lantern:{value}\n" for name, value in points.items())
        (about / "entry_points.txt").write_text(f"[kerblight.outputs]\n{lines}", encoding="utf-8")
        monkeypatch.syspath_prepend(tmp_path)
        monkeypatch.delitem(sys.modules, "lantern", raising=False)
        protocols.cache_clear()

    yield installed
    protocols.cache_clear()


def on_lanterns(folder: Path) -> Path:
    """Write the demo venue with the lamps of r3 on lanterns."""
    wires = read_wires((CONFIGS / "harbour-wired.csv").read_text(encoding="utf-8"), "demo")[0]
    moved = [_on_lantern(wire, row) if wire.place == "r3" else wire for row, wire in enumerate(wires)]
    (folder / "harbour-wired.csv").write_text(write_wires(moved), encoding="utf-8")
    return Path(shutil.copy(CONFIGS / "harbour-wired.toml", folder))


def _on_lantern(wire: Wire, row: int) -> Wire:
    return msgspec.structs.replace(
        wire, protocol="lantern", host="loft", port=None, unit=None, point_type="glass", address=row % 32
    )


async def test_it_is_found_by_its_entry_point_linted_and_driven(install: Install, tmp_path: Path) -> None:
    install(lantern="LANTERN")
    venue = load(on_lanterns(tmp_path))
    assert lint(venue) == []
    plant = Plant(venue)
    (output,) = (each for each in plant.outputs if each.line.protocol == "lantern")
    heard, told = sys.modules["lantern"].HEARD, asyncio.Event()
    running = asyncio.create_task(output.run(told.set))
    try:
        async with asyncio.timeout(5):
            await told.wait()
            told.clear()
            output.show(dict.fromkeys(output.line.fail_image, 1), 1)
            await told.wait()
        assert output.done == 1
        assert set(heard[-1].values()) == {1}
    finally:
        running.cancel()
        await asyncio.gather(running, return_exceptions=True)
    assert sorted(heard[-1].values()) == [0, 0, 1]  # left with its fail states, by the one base


def test_what_is_not_installed_is_a_finding_in_its_row(tmp_path: Path) -> None:
    found = {str(finding) for finding in lint(load(on_lanterns(tmp_path)))}
    assert any("protocol (column F) is lantern" in each and "virtual" in each for each in found), found


def test_ours_cannot_be_replaced(install: Install) -> None:
    ours = protocols()["virtual"]
    install(virtual="OURS")
    assert protocols()["virtual"] is ours


def test_what_is_no_protocol_is_refused_by_name(install: Install) -> None:
    install(lantern="NONE")
    with pytest.raises(Unusable, match="the output lantern of lantern:NONE is no Protocol"):
        protocols()


def test_a_driver_that_cannot_be_loaded_is_refused_and_nothing_stands_in(install: Install) -> None:
    install(lantern="GONE")
    with pytest.raises(Unusable, match="lantern: its driver cannot be loaded"):
        protocols()["lantern"].make(Line(protocol="lantern"), lease_ms=500)
