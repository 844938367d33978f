"""A controller that is killed at one of its writes: forked off, so that it need not be compiled anew.

    python -m tests.faults.dying FOLDER HOW [FIRST STEP]

For every write into the journal, from FIRST in strides of STEP: a child works through CALLS with a fresh
journal, and dies at that write, HOW as in `die.c`, which must be preloaded. A line a child: the write, the
ids of calls whose answers it had said are recorded, the holds that were answered, and whether it died.
"""

from __future__ import annotations

import asyncio
import ctypes
import json
import os
import sys
from pathlib import Path
from typing import Any

import async_solipsism

from signals.caller import Caller
from signals.clock import Clock
from signals.controller.service import Controller
from signals.journal import Journal
from signals.mqtt.memory import MemoryBroker
from signals.mqtt.topics import Topics
from tests.sequence.playing import core_for, venue

CALLS: tuple[dict[str, Any], ...] = (
    {"call": "prepare", "entries": [{"number": 1, "driver": "A driver", "class": "adult"}]},
    {"call": "caution", "where": "s2", "kind": "incident"},
    {"call": "stop", "kind": "incident"},
    {"call": "lift", "hold": "caution:s2:desk", "checked": True, "reason": "looked at"},
)
HOLDS = {"caution": "caution:s2:desk", "stop": "stop:desk"}


async def work(folder: Path, told: dict[str, Any]) -> None:
    """Be a controller and a caller, and keep in `told` what was answered."""
    here, broker = venue(), MemoryBroker()
    journal = Journal(folder / "journal.sqlite")
    controller = Controller(here, broker.link, journal=journal, clock=Clock(), make_core=core_for)
    topics, ready = Topics.of(here.id, simulated=here.simulated), asyncio.Event()
    caller = Caller(topics, "desk", broker.link, device="dying")
    works = [asyncio.create_task(controller.run(ready.set)), asyncio.create_task(caller.run())]
    async with asyncio.timeout(60):  # of virtual time
        await ready.wait()
        await caller.heard.wait()
    for fields in CALLS:
        answer = await caller.ask({"id": f"c-{fields['call']}", **fields})
        assert answer is not None
        if answer.recorded:
            told["recorded"].append(answer.id)
        if answer.accepted and fields["call"] in HOLDS:
            told["holds"].append(HOLDS[fields["call"]])
        if answer.accepted and fields["call"] == "lift":
            told["holds"].remove(fields["hold"])
        os.write(told["pipe"], json.dumps({k: told[k] for k in ("recorded", "holds")}).encode() + b"\n")
    for task in works:
        task.cancel()
    await asyncio.wait(works)


def child(folder: Path, at: int, how: int, pipe: int) -> None:
    """Work until the write."""
    own = ctypes.CDLL(None)
    ctypes.c_int.in_dll(own, "die_count").value = 0
    ctypes.c_int.in_dll(own, "die_how").value = how
    ctypes.c_int.in_dll(own, "die_at").value = at
    with asyncio.Runner(loop_factory=async_solipsism.EventLoop) as runner:
        runner.run(work(folder, {"recorded": [], "holds": [], "pipe": pipe}))


def main() -> None:
    """Fork until a child reaches its end alive."""
    folder, how, first, step = Path(sys.argv[1]), *map(int, [*sys.argv[2:], "1", "1"][:3])
    with asyncio.Runner(loop_factory=async_solipsism.EventLoop) as runner:  # compile the rules once
        (folder / "warm").mkdir()
        runner.run(
            work(folder / "warm", {"recorded": [], "holds": [], "pipe": os.open(os.devnull, os.O_WRONLY)})
        )
    at, died = first, True
    while died:
        here = folder / f"{at}"
        here.mkdir()
        reading, writing = os.pipe()
        pid = os.fork()
        if pid == 0:
            os.close(reading)
            child(here, at, how, writing)
            os._exit(0)
        os.close(writing)
        with os.fdopen(reading) as told:
            lines = told.read().splitlines()
        died = os.WIFSIGNALED(os.waitpid(pid, 0)[1])
        last = json.loads(lines[-1]) if lines else {"recorded": [], "holds": []}
        print(json.dumps({"at": at, "died": died, "folder": str(here), **last}), flush=True)
        at += step


if __name__ == "__main__":
    main()
