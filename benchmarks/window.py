"""What a frame of the window takes: `python -m benchmarks.window`.

First all 12 karts race for ten seconds, in virtual time, with the real controller, monitor, nodes and
world, and everything the desk hears is kept. Then a desk hears it again at 60 frames a second of its
own time, drawn as the window draws it, on pygame's dummy display and on an X server of its own
(Xvfb, where there is one; its own work is not counted). The map is drawn in every frame, the panels ten
times a second, so the mean counts. The floor copies one picture of the same size and updates the display.
"""

from __future__ import annotations

import argparse
import asyncio
import os
import pickle
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

import async_solipsism

from benchmarks.measure import measure, parser, say_where, show, verdict
from benchmarks.racing import bring_in, bring_out, everyone_drives
from benchmarks.xserver import x_server
from signals.caller import Caller
from signals.cli.options import DEFAULT_VENUE
from signals.mqtt.link import Arrived, Owner
from signals.mqtt.topics import Topics
from signals.sequence.stage import Stage
from signals.venue import load
from signals.venue.model import Venue
from sim.view.desk import Desk
from sim.view.layout import DESIGNED

FRAMES_PER_S = 60
RECORDED_S = 10.0
ROLLED_OUT_S = 15.0
TARGET_SHARE = 1 / 3
FRAMES = int(RECORDED_S * FRAMES_PER_S)
Heard = list[tuple[float, Arrived]]


async def _record(venue: Venue) -> Heard:
    """Have everyone race, and keep all the desk hears: from the start, and ten seconds of it."""
    desk = Desk(venue)
    heard: Heard = []
    loop = asyncio.get_running_loop()
    async with Stage(venue, seed=1) as stage:
        owner = Owner(on_message=lambda arrived: heard.append((loop.time(), arrived)))
        listener = stage.link(f"post-{desk.post}", subscriptions=desk.subscriptions(), owner=owner)
        topics = Topics.of(venue.id, simulated=venue.simulated)
        caller = Caller(topics, desk.post, stage.link, device="bench")
        tasks = [asyncio.create_task(listener.run()), asyncio.create_task(caller.run())]
        await caller.heard.wait()
        await bring_in(caller, venue)
        await bring_out(caller, venue)
        await asyncio.sleep(ROLLED_OUT_S + RECORDED_S)
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)
    return heard


class Film:
    """A desk that hears the recording again, a frame at a time, over and over."""

    def __init__(self, venue: Venue, heard: Heard) -> None:
        from sim.view.hands import Hands  # noqa: PLC0415 - pygame wants its display chosen first

        self.desk = Desk(venue)
        self.hands = Hands(self.desk, lambda *_: True)
        self.desk.linked(up=True)
        self.begins_s = heard[-1][0] - RECORDED_S
        self.now_s = self.begins_s
        self._frames: list[list[Arrived]] = [[] for _ in range(FRAMES)]
        for at_s, arrived in heard:
            if at_s < self.begins_s:
                self.desk.hear(arrived, at_s)
            else:
                self._frames[min(FRAMES - 1, int((at_s - self.begins_s) * FRAMES_PER_S))].append(arrived)
        self._frame = 0

    def listen(self) -> None:
        """Take in what comes within one frame."""
        self.now_s += 1 / FRAMES_PER_S
        for arrived in self._frames[self._frame % FRAMES]:
            self.desk.hear(arrived, self.now_s)
        self.desk.tick(self.now_s)
        self.hands.tick(self.now_s)
        self._frame += 1


def _draw(driver: str, recording: Path) -> list[tuple[str, ...]]:
    """Measure on one display; in a process of its own."""
    os.environ.update(SDL_VIDEODRIVER=driver, SDL_FRAMEBUFFER_ACCELERATION="0")
    import pygame  # noqa: PLC0415 - it reads the environment

    from sim.view.screen import Screen  # noqa: PLC0415 - likewise

    venue = load(recording.parent / DEFAULT_VENUE.name)
    film = Film(venue, pickle.loads(recording.read_bytes()))  # noqa: S301 - written by this program just now
    pygame.display.init()
    surface = pygame.display.set_mode(DESIGNED)
    screen = Screen(surface, film.desk, film.hands)
    still = pygame.Surface(DESIGNED).convert()

    def frame() -> None:
        film.listen()
        pygame.display.update(screen.draw(film.now_s))

    def floor() -> None:
        surface.blit(still, (0, 0))
        pygame.display.update(surface.get_rect())

    for _ in range(FRAMES_PER_S):
        frame()
    began_s, cpu_s = time.perf_counter(), time.process_time()
    per_frame = measure(frame, times=FRAMES, rounds=2)
    wall = (time.perf_counter() - began_s) / (time.process_time() - cpu_s)
    least = measure(floor, times=FRAMES, rounds=2)
    share = per_frame.mean_us * FRAMES_PER_S / 1e6
    racing = sum(kart.speed_kmh > 1 for kart in film.desk.worlds[-1][1].karts)
    return [
        (
            f"{driver}: {racing} karts driving",
            f"{per_frame.median_us / 1000:.2f}",
            f"{per_frame.mean_us / 1000:.2f}",
            f"{per_frame.p99_us / 1000:.2f}",
            f"{share:.0%}",
            f"{per_frame.mean_us / least.mean_us:.1f}",
            verdict(share < TARGET_SHARE),
            f"{wall:.2f}",
        ),
        (
            f"{driver}, floor: copy and update",
            f"{least.median_us / 1000:.2f}",
            f"{least.mean_us / 1000:.2f}",
            f"{least.p99_us / 1000:.2f}",
            f"{least.mean_us * FRAMES_PER_S / 1e6:.0%}",
            *("", "", ""),
        ),
    ]


def _elsewhere(driver: str, recording: Path, environment: dict[str, str]) -> list[Any]:
    argv = [sys.executable, "-m", "benchmarks.window", "--draw", driver, str(recording)]
    subprocess.run(argv, check=True, env={**os.environ, **environment})
    rows: list[Any] = pickle.loads(recording.with_suffix(".rows").read_bytes())  # noqa: S301 - likewise
    return rows


def main() -> None:
    """Record, then measure on each display."""
    say_where()
    with tempfile.TemporaryDirectory() as folder, x_server() as display:
        venue = load(everyone_drives(Path(folder)))
        with asyncio.Runner(loop_factory=async_solipsism.EventLoop) as runner:
            heard = runner.run(_record(venue))
        recording = Path(folder) / "heard"
        recording.write_bytes(pickle.dumps(heard))
        rows = _elsewhere("dummy", recording, {})
        if display is not None:
            rows += _elsewhere("x11", recording, {"DISPLAY": display})
    columns = (
        "ms of processor a frame",
        "median",
        "mean",
        "p99",
        "core at 60/s",
        "÷ floor",
        "< 1/3",
        "wall ÷ CPU",
    )
    show(f"the window at {DESIGNED[0]} × {DESIGNED[1]}", columns, rows)


if __name__ == "__main__":
    asked = parser(__doc__)
    asked.add_argument("--draw", nargs=2, help=argparse.SUPPRESS)
    if drawn := asked.parse_args().draw:
        output = Path(drawn[1])
        output.with_suffix(".rows").write_bytes(pickle.dumps(_draw(drawn[0], output)))
    else:
        main()
