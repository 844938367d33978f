import asyncio
import contextlib
import os
import select
import signal
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from signals.errors import Unusable
from signals.supervise.child import Recipe
from signals.supervise.supervisor import AGAIN_TIMES, Supervisor

PART = Path(__file__).with_name("part.py")


def recipe(tmp_path: Path, name: str, behaviour: str = "steady", **more: Any) -> Recipe:
    return Recipe(
        name=name,
        argv=(sys.executable, str(PART), name, behaviour),
        log=tmp_path / f"{name}.log",
        **more,
    )


def gone(pid: int, within_s: float = 5.0) -> bool:
    """Wait until a process that is not our child has ended."""
    with contextlib.suppress(ProcessLookupError):
        watch = os.pidfd_open(pid)
        try:
            return bool(select.select([watch], [], [], within_s)[0])
        finally:
            os.close(watch)
    return True


async def test_all_are_ready_in_order_and_end_in_reverse(tmp_path: Path) -> None:
    told = []
    async with Supervisor([recipe(tmp_path, n) for n in ("one", "two", "three")], tell=told.append) as run:
        pids = [run.pid(name) for name in run.names()]
    assert told == ["one ready", "two ready", "three ready", "three ended", "two ended", "one ended"]
    assert all(gone(pid) for pid in pids)


async def test_those_that_need_not_wait_start_together_behind_the_one_before(tmp_path: Path) -> None:
    told = []
    recipes = [recipe(tmp_path, "one"), recipe(tmp_path, "two"), recipe(tmp_path, "three", waits=False)]
    async with Supervisor(recipes, tell=told.append):
        assert told[0] == "one ready"
        assert set(told[1:]) == {"two ready", "three ready"}
    assert told[3:] == ["three ended", "two ended", "one ended"]


async def test_one_of_several_that_fails_ends_the_start_of_all(tmp_path: Path) -> None:
    recipes = [
        recipe(tmp_path, "one"),
        recipe(tmp_path, "two"),
        recipe(tmp_path, "odd", "fails", waits=False),
    ]
    run = Supervisor(recipes)
    with pytest.raises(Unusable, match="no port is free"):
        async with run:
            pass
    assert not any(run.alive(name) for name in run.names())


async def test_a_process_that_ends_unasked_comes_back_three_times_then_the_run_is_over(
    tmp_path: Path,
) -> None:
    told = []
    recipes = [recipe(tmp_path, "steady"), recipe(tmp_path, "weak", "ends")]
    async with Supervisor(recipes, tell=told.append, again_after_s=0) as run:
        await asyncio.wait_for(run.over.wait(), 20)
        assert run.failed
        assert run.alive("steady")
    assert sum("starting it again" in line for line in told) == AGAIN_TIMES
    assert told.count("weak ready") == 1 + AGAIN_TIMES


async def test_killed_on_purpose_stays_down_until_started(tmp_path: Path) -> None:
    async with Supervisor([recipe(tmp_path, "one")], again_after_s=0) as run:
        first = run.pid("one")
        await run.kill("one")
        assert gone(first)
        assert not run.alive("one")
        await run.start("one")
        assert run.pid("one") != first
        assert not run.over.is_set()


@pytest.mark.parametrize(
    ("behaviour", "said"),
    [("fails", "no port is free"), ("mute", "was not ready within 0.5 s")],
)
async def test_one_that_is_never_ready_ends_the_start_and_leaves_nobody(
    tmp_path: Path, behaviour: str, said: str
) -> None:
    steady = recipe(tmp_path, "steady")
    run = Supervisor([steady, recipe(tmp_path, "odd", behaviour, ready_s=0.5 if behaviour == "mute" else 10)])
    with pytest.raises(Unusable, match=said):
        await run.__aenter__()
    assert not run.alive("steady")


async def test_a_deaf_process_is_killed_in_the_end(tmp_path: Path) -> None:
    async with Supervisor([recipe(tmp_path, "deaf", "deaf", stop_s=0.2)]) as run:
        pid = run.pid("deaf")
    assert gone(pid)


async def test_a_window_that_was_closed_ends_the_run_without_failure(tmp_path: Path) -> None:
    async with Supervisor([recipe(tmp_path, "window", "ends", ends_run=True)]) as run:
        await asyncio.wait_for(run.over.wait(), 10)
        assert (run.why, run.failed) == ("window was closed", False)


RUNNER = """
import asyncio, sys
from pathlib import Path
from typing import Any
from signals.supervise.child import Recipe
from signals.supervise.supervisor import Supervisor

async def main(part, folder):
    names = ("one", "two", "three")
    recipes = [Recipe(name=n, argv=(sys.executable, part, n, "steady"), log=Path(folder, n)) for n in names]
    async with Supervisor(recipes) as run:
        print(*(run.pid(n) for n in names), flush=True)
        await run.over.wait()

asyncio.run(main(*sys.argv[1:]))
"""


def test_no_process_outlives_a_killed_supervisor(tmp_path: Path) -> None:
    with subprocess.Popen(
        [sys.executable, "-c", RUNNER, str(PART), str(tmp_path)], stdout=subprocess.PIPE, text=True
    ) as runner:
        pids = [int(word) for word in runner.stdout.readline().split()]
        runner.send_signal(signal.SIGKILL)
        runner.wait()
        assert len(pids) == 3
        assert all(gone(pid) for pid in pids)
