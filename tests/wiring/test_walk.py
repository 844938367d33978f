"""The walk over a running venue: in virtual time in memory, and over a real board with swapped wires."""

from __future__ import annotations

import asyncio
from datetime import date
from pathlib import Path

import async_solipsism
import msgspec
import pytest

from signals.outputs.base import Output
from signals.outputs.line import Line
from signals.outputs.plant import make_output
from signals.outputs.service import Outputs
from signals.outputs.virtual import Virtual, virtual_output
from signals.part import Part
from signals.sequence.stage import Stage
from signals.venue import load
from signals.venue.model import Venue
from signals.venue.wires import Wire
from signals.wiring.walk import Walk, Walked, recorded
from tests.outputs.bench import PATIENT, facts_of
from tests.outputs.board import made_of

CONFIGS = Path(__file__).parents[2] / "configs"
VENUE = load(CONFIGS / "harbour-wired.toml")


class Site(Stage):
    """A stage whose devices are known, or are real ones."""

    devices: dict[str, Output]
    real: frozenset[str] = frozenset()

    def _make(self, name: str) -> Part:
        if name != "outputs":
            return super()._make(name)
        self.devices = {}

        def make(line: Line, lease_ms: int) -> Output:
            made = (make_output if line.protocol in self.real else virtual_output)(line, lease_ms)
            self.devices |= {point.ref: made for point in line.outs}
            return made

        return Outputs(self.venue, self._remembering(name), make=make)


async def yes(_: Wire, __: str) -> bool:
    return True


async def nobody(_: Wire, __: str) -> None:
    return None


def only(venue: Venue, *heads: str) -> Venue:
    """The venue with these heads' rows to walk; the others stay wired."""
    return msgspec.structs.replace(venue, wires=tuple(w for w in venue.wires if w.place in heads))


@pytest.mark.gate
def test_every_lamp_is_lit_alone_and_the_day_recorded() -> None:
    async def whole() -> list[Walked]:
        async with Site(VENUE) as site:
            await asyncio.sleep(1)
            return await Walk(VENUE, site.link, post="desk", ask=yes).run()

    with asyncio.Runner(loop_factory=async_solipsism.EventLoop) as runner:
        walked = runner.run(whole())
    assert [each for each in walked if each.outcome != "seen"] == []
    assert {each.ref for each in walked} == {w.ref for w in VENUE.wires if w.direction == "out"}
    proven = {each.ref for each in walked if each.why == "proven"}
    assert proven == {w.ref for w in VENUE.wires if w.feedback_ref}
    kept = recorded(VENUE.wires, walked, date(2026, 5, 31))
    tested = {wire.ref for wire in kept if wire.tested_on == "2026-05-31"}
    sensors = {w.feedback_ref for w in VENUE.wires if w.feedback_ref}
    assert tested == {each.ref for each in walked} | sensors


def test_a_dead_lamp_is_wrong_and_one_nobody_looks_at_is_not_seen() -> None:
    async def whole() -> list[Walked]:
        async with Site(VENUE) as site:
            device = site.devices["H3-YEL"]
            assert isinstance(device, Virtual)
            device.dead.add("H3-YEL")
            await asyncio.sleep(1)
            return await Walk(only(VENUE, "h3", "h2"), site.link, post="desk", ask=nobody).run()

    with asyncio.Runner(loop_factory=async_solipsism.EventLoop) as runner:
        walked = {each.ref: each for each in runner.run(whole())}
    assert (walked["H3-YEL"].outcome, walked["H3-YEL"].proven) == ("wrong", [])
    assert walked["H3-RED"].outcome == walked["H3-GRE"].outcome == "seen"
    assert {walked[ref].outcome for ref in ("H2-RED", "H2-YEL", "H2-GRE")} == {"not seen"}


@pytest.mark.gate
async def test_swapped_wires_planted_in_a_real_board_are_found(tmp_path: Path) -> None:
    """In real time: h5 hangs on a pymodbus server whose red and green are swapped behind the terminals."""
    text = (CONFIGS / "harbour-wired.toml").read_text(encoding="utf-8")
    (tmp_path / "v.toml").write_text(
        text.replace("[timing_ms]\n", f"[timing_ms]\n{PATIENT}"), encoding="utf-8"
    )
    table = (CONFIGS / "harbour-wired.csv").read_text(encoding="utf-8")
    (tmp_path / "harbour-wired.csv").write_text(table, encoding="utf-8")
    venue = load(tmp_path / "v.toml")
    rows = {wire.ref: wire for wire in venue.wires}
    boards = {}
    for port in (5021, 5022, 5023):
        boards[port] = made_of(facts_of([wire for wire in venue.wires if wire.port == port]))
        await boards[port].serve()
    red, green = rows["H5-RED"].point, rows["H5-GRE"].point
    boards[5021].crossed = {red: green, green: red}
    moved = (
        msgspec.structs.replace(wire, port=boards[wire.port].port) if wire.port in boards else wire
        for wire in venue.wires
    )
    venue = msgspec.structs.replace(venue, wires=tuple(moved))
    site = Site(venue)
    site.real = frozenset({"modbus-tcp"})
    try:
        async with site:
            await asyncio.sleep(1)
            walked = await Walk(only(venue, "h5", "h3"), site.link, post="desk", ask=nobody).run()
    finally:
        for board in boards.values():
            await board.kill()
    found = {each.ref: (each.outcome, each.proven) for each in walked}
    assert found["H5-RED"] == ("wrong", ["green"])
    assert found["H5-GRE"] == ("wrong", ["red"])
    assert {found[ref][0] for ref in ("H5-YEL", "H3-RED", "H3-YEL", "H3-GRE")} == {"seen"}
