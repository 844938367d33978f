"""A drill's clock in real time: it waits for a loop that comes late, and for what was not read yet."""

from __future__ import annotations

import asyncio
import socket
import threading
import time
from contextlib import suppress

from sim.drill.held import MOST_S, READING_S, HeldClock, HeldLoop, run


def test_it_waits_for_a_loop_that_comes_late() -> None:
    clock = HeldClock()
    loop = HeldLoop(clock)
    seen: list[float] = []

    async def held_up() -> None:
        seen.append(loop.time())
        time.sleep(5 * MOST_S)  # noqa: ASYNC251 - somebody else has the processor
        seen.append(loop.time())
        await asyncio.sleep(0)
        seen.append(loop.time())

    try:
        loop.run_until_complete(held_up())
    finally:
        loop.close()
    assert seen[0] == seen[1]
    assert seen[1] < seen[2] <= seen[1] + MOST_S
    assert clock.now_s() <= clock.kept_s + MOST_S


def test_another_thread_that_wakes_a_busy_loop_never_reads_an_earlier_moment() -> None:
    clock, begun = HeldClock(), threading.Event()
    loops: list[asyncio.AbstractEventLoop] = []

    async def busy() -> None:
        loops.append(asyncio.get_running_loop())
        begun.set()
        for _ in range(20):
            time.sleep(5 * READING_S)  # noqa: ASYNC251 - a turn with much to do
            await asyncio.sleep(0)

    thread = threading.Thread(target=lambda: run(busy(), clock))
    thread.start()
    begun.wait()
    read: list[float] = []
    while thread.is_alive():
        read.append(clock.now_s())
        with suppress(RuntimeError):  # it is closed
            loops[0].call_soon_threadsafe(int)
        time.sleep(READING_S / 4)
    thread.join()
    assert len(read) > 20
    assert read == sorted(read)


def test_it_goes_on_by_little_while_there_is_something_to_read() -> None:
    messages = 20
    times: list[float] = []

    async def reads_one_a_turn(near: socket.socket) -> None:
        loop, done = asyncio.get_running_loop(), asyncio.Event()

        def read() -> None:
            near.recv(1)
            times.append(loop.time())
            time.sleep(2 * READING_S)
            if len(times) == messages:
                done.set()

        loop.add_reader(near, read)
        await done.wait()
        loop.remove_reader(near)

    near, far = socket.socketpair()
    with near, far:
        far.send(bytes(messages))
        run(reads_one_a_turn(near), HeldClock(), READING_S)
    assert 0 < times[-1] - times[0] <= messages * READING_S
