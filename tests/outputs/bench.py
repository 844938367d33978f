"""The wired demo venue with peers at the end of its wires: boards as processes, a receiver by `sacn`."""

from __future__ import annotations

import json
import socket
import subprocess
import sys
import threading
from collections import defaultdict
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import msgspec
import sacn

from signals.outputs.line import at_rest
from signals.venue import load
from signals.venue.wires import Wire, read_wires, write_wires

ROOT = Path(__file__).parents[2]
CONFIGS = ROOT / "configs"
NAME = "harbour-wired"
PATIENT = "lease_head = 3000\nlease_kart = 3000\nlease_controller = 3000\nsettle = 3000\nmonitor_trip = 440\n"
"""What a busy machine does not end: the day is the point here, not the leases."""


@dataclass
class Bench:
    """A copy of the venue whose devices stand here, and what they were told."""

    venue: Path
    boards: dict[int, subprocess.Popen[str]]
    levels: dict[int, list[tuple[int, ...]]] = field(default_factory=lambda: defaultdict(list))
    """Every different set of slots, by universe."""

    def say(self, packet: Any) -> None:
        self.levels[packet.universe].append(packet.dmxData)

    def end_boards(self) -> list[dict[str, Any]]:
        """End the boards, and give what each was told."""
        return [
            json.loads(board.communicate("", timeout=10)[0].splitlines()[-1])
            for board in self.boards.values()
        ]


def write_venue(folder: Path, wires: list[Wire], ports: dict[int | None, int]) -> Path:
    """Copy the demo venue with its devices on other ports, and patient."""
    moved = (msgspec.structs.replace(wire, port=ports[wire.port]) for wire in wires)
    (folder / f"{NAME}.csv").write_text(write_wires(moved), encoding="utf-8")
    text = (CONFIGS / f"{NAME}.toml").read_text(encoding="utf-8")
    venue = folder / f"{NAME}.toml"
    venue.write_text(text.replace("[timing_ms]\n", f"[timing_ms]\n{PATIENT}"), encoding="utf-8")
    load(venue)
    return venue


def demo_wires() -> list[Wire]:
    """The demo venue's table."""
    return list(read_wires((CONFIGS / f"{NAME}.csv").read_text(encoding="utf-8"), NAME)[0])


def facts_of(wires: list[Wire]) -> dict[str, Any]:
    """What a board must know of the wires on it: fail states, sensors, what contacts and loops rest at."""
    inputs = {wire.ref: wire.point for wire in wires if wire.direction == "in"}
    coils = [wire for wire in wires if wire.point_type == "coil"]
    return {
        "fail": [wire.point for wire in coils if wire.fail_state == "on"],
        "sensors": {wire.point: inputs[wire.feedback_ref] for wire in coils if wire.feedback_ref},
        "closed": [wire.point for wire in wires if wire.aspect == "break"],
        "loops": {wire.point: at_rest(wire) for wire in wires if wire.aspect == "loop"},
    }


@contextmanager
def bench(folder: Path) -> Iterator[Bench]:
    """Stand a board for every Modbus device and a receiver for every universe."""
    with ExitStack() as stack:
        wires = demo_wires()
        boards: dict[int, subprocess.Popen[str]] = {}
        ports: dict[int | None, int] = {}
        for port in sorted({w.port or 0 for w in wires if w.protocol == "modbus-tcp"}):
            process, ports[port] = _board([w for w in wires if w.port == port])
            boards[port] = process
            stack.callback(process.wait)
            stack.callback(process.kill)
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
            probe.bind(("127.0.0.1", 0))
            ports[5568] = probe.getsockname()[1]
        made = Bench(write_venue(folder, wires, ports), boards)
        receiver = sacn.sACNreceiver(bind_address="127.0.0.1", bind_port=ports[5568])
        for universe in {w.unit or 0 for w in wires if w.protocol == "e131"}:
            receiver.register_listener("universe", made.say, universe=universe)
        receiver.start()
        stack.callback(_end, receiver)
        yield made


def _end(receiver: sacn.sACNreceiver) -> None:
    receiver.stop()
    for thread in threading.enumerate():
        if thread.name.startswith("sACN"):
            thread.join()


def _board(wires: list[Wire]) -> tuple[subprocess.Popen[str], int]:
    process = subprocess.Popen(
        [sys.executable, "-m", "tests.outputs.board", json.dumps(facts_of(wires))],
        cwd=ROOT,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    assert process.stdout is not None
    return process, json.loads(process.stdout.readline())["port"]
