"""How fast studied sessions are, against peers of the same session: `python -m benchmarks.sim`.

A session: twelve karts, ten minutes from the first one let out, at Harbour Loop (all one class). The whole
model is played: signals, reaction, limiter, radio, overtaking, the rule table's decisions, contacts. Peers do
much less, and are written as their users write them:

    numpy    all karts as arrays, one vectorised step: follow on one line, limiter, no decision
    simpy    a process a kart, woken every step, following on one line
    pymunk   a body a kart in a 2-D physics space, steered along the line, with collisions

A peer that takes long is played for a part of the session, and said to be.
"""

from __future__ import annotations

import math
import os
import time
from collections.abc import Callable
from typing import NamedTuple

import numpy as np
import pymunk
import simpy

from benchmarks.measure import parser, say_where, show, verdict
from signals.cli.options import DEFAULT_VENUE
from signals.venue import load
from signals.venue.model import Venue
from sim.ground import Ground
from sim.study.form import Choices
from sim.study.prepared import Prepared
from sim.study.run import Player, plain
from sim.study.work import Cell, prepare

MINUTES, KARTS, TOP_MPS = 10.0, 12, 12.5
PEER_S, PLAIN_S = 60.0, 60.0
"""So much of the session is played by slow peers, and by the plain form."""
ROUNDS = 5
GAP_S = 1.0
"""Between karts let out where the cost of a kart is measured: all drive soon."""
MANY = 10_000


class Took(NamedTuple):
    """What was played, and how long it took."""

    kart_steps: float
    seconds: float

    @property
    def rate(self) -> float:
        """Kart-steps a second."""
        return self.kart_steps / self.seconds


def session(karts: int, hertz: int, seconds: float, *, begins_s: float | None = None) -> Prepared:
    """Make the session ready."""
    choices = Choices(
        karts=karts,
        begins_s=seconds / 2 if begins_s is None else begins_s,
        drives_s=seconds,
        longest_s=seconds,
        delay_s=2.0,
        losses_per_hour=2.0,
    )
    return prepare(Cell(load(DEFAULT_VENUE), choices, hertz))


def compiled_session(karts: int, hertz: int, gap_s: float | None = None) -> Took:
    """Time the compiled form, processor time of one core, best of some sessions."""
    ready = session(karts, hertz, 60 * MINUTES)
    if gap_s is not None:
        ready.tables = ready.tables._replace(wires=ready.tables.wires._replace(gap_s=gap_s))
    player = Player(ready)
    player.play(0)
    return min((_played(player, seed, karts) for seed in range(1, ROUNDS + 1)), key=lambda took: -took.rate)


def _played(player: Player, seed: int, karts: int) -> Took:
    began = time.process_time()
    outcome = player.play(seed)
    return Took(outcome.steps * karts, time.process_time() - began)


def plain_session(karts: int, hertz: int) -> Took:
    """Time the same functions as they stand."""
    ready = session(karts, hertz, PLAIN_S)
    began = time.process_time()
    outcome = plain(ready, 1)
    return Took(outcome.steps * karts, time.process_time() - began)


# --- peers


class Lap(NamedTuple):
    """The racing line that peers follow, a point a metre: places, headings, speeds."""

    xs: np.ndarray
    ys: np.ndarray
    speeds: np.ndarray


def lap_of(venue: Venue) -> Lap:
    """Give the line."""
    ground = Ground(venue)
    metres = int(venue.length_m)
    poses = [ground.track.lap.at(metre) for metre in range(metres)]
    speeds = np.minimum(ground.speeds(6, 0, wet=False)[:metres], TOP_MPS)
    return Lap(np.array([pose.x_m for pose in poses]), np.array([pose.y_m for pose in poses]), speeds)


def follow(at: float, ahead: float, v: float, lap: Lap, length_m: int) -> float:
    """Give the acceleration of a kart that follows one line."""
    gap = max((ahead - at) % length_m - 2.0, 0.1)
    want = 1.4 + 0.75 * v
    free: float = (lap.speeds[int(at) % length_m] - v) / 0.35
    return max(min(free, 2.5 * (1.0 - (want / gap) ** 2), 2.5), -6.5)


def numpy_step(lap: Lap, hertz: int) -> Took:
    """Time a vectorised step of all karts at once."""
    length_m, steps, dt = len(lap.xs), int(60 * MINUTES * hertz), 1.0 / hertz
    at, v, cap = np.arange(KARTS) * 30.0, np.zeros(KARTS), np.zeros(KARTS)
    began = time.process_time()
    for _ in range(steps):
        gap = np.maximum((np.roll(at, -1) - at) % length_m - 2.0, 0.1)
        want = 1.4 + 0.75 * v
        free = (lap.speeds[at.astype(int) % length_m] - v) / 0.35
        cap = np.minimum(cap + dt, TOP_MPS)
        a = np.clip(np.minimum(free, 2.5 * (1.0 - (want / gap) ** 2)), -6.5, 2.5)
        v = np.minimum(np.maximum(v + a * dt, 0.0), cap)
        at = (at + v * dt) % length_m
    return Took(steps * KARTS, time.process_time() - began)


def simpy_process(lap: Lap, hertz: int) -> Took:
    """Time a process a kart."""
    length_m, dt = len(lap.xs), 1.0 / hertz
    at, v = [30.0 * kart for kart in range(KARTS)], [0.0] * KARTS

    def drives(env: simpy.Environment, kart: int) -> simpy.events.ProcessGenerator:
        while True:
            a = follow(at[kart], at[(kart + 1) % KARTS], v[kart], lap, length_m)
            v[kart] = min(max(v[kart] + a * dt, 0.0), TOP_MPS)
            at[kart] = (at[kart] + v[kart] * dt) % length_m
            yield env.timeout(dt)

    env = simpy.Environment()
    for kart in range(KARTS):
        env.process(drives(env, kart))
    began = time.process_time()
    env.run(until=PEER_S)
    return Took(PEER_S * hertz * KARTS, time.process_time() - began)


def pymunk_space(lap: Lap, hertz: int) -> Took:
    """Time bodies in a physics space, steered along the line."""
    length_m, dt = len(lap.xs), 1.0 / hertz
    space, bodies, at = pymunk.Space(), [], [30.0 * kart for kart in range(KARTS)]
    for kart in range(KARTS):
        body = pymunk.Body(230.0, 100.0)
        body.position = float(lap.xs[int(at[kart])]), float(lap.ys[int(at[kart])])
        space.add(body, pymunk.Poly.create_box(body, (1.9, 1.3)))
        bodies.append(body)
    began = time.process_time()
    for _ in range(int(PEER_S * hertz)):
        for kart, body in enumerate(bodies):
            v = body.velocity.length
            a = follow(at[kart], at[(kart + 1) % KARTS], v, lap, length_m)
            at[kart] = (at[kart] + v * dt) % length_m
            aim = int(at[kart] + 4.0) % length_m
            way = pymunk.Vec2d(float(lap.xs[aim]), float(lap.ys[aim])) - body.position
            body.velocity = way.normalized() * min(max(v + a * dt, 0.1), TOP_MPS)
            body.angle = math.atan2(way.y, way.x)
        space.step(dt)
    return Took(PEER_S * hertz * KARTS, time.process_time() - began)


# --- many sessions


def many(hertz: int, sessions: int, threads: int) -> float:
    """Give the wall seconds that so many ten-minute sessions take."""
    player = Player(session(KARTS, hertz, 60 * MINUTES), threads)
    player.play(0)
    began = time.perf_counter()
    for _ in player.play_all(range(1, sessions + 1)):
        pass
    return time.perf_counter() - began


def main() -> None:
    """Print the tables."""
    asked = parser(__doc__)
    asked.add_argument("--sessions", type=int, default=1000, help="of the many, played; scaled to 10,000")
    sessions = asked.parse_args().sessions
    say_where()
    _speeds()
    _karts()
    _many(sessions, os.cpu_count() or 1)


def _speeds() -> None:
    lap = lap_of(load(DEFAULT_VENUE))
    rows: list[tuple[str, ...]] = []
    for hertz in (60, 20):
        ours = compiled_session(KARTS, hertz)
        peers: list[tuple[str, Callable[[], Took]]] = [
            ("ours, as it stands", lambda hertz=hertz: plain_session(KARTS, hertz)),  # type: ignore[misc]
            ("numpy: one line, nothing decided", lambda hertz=hertz: numpy_step(lap, hertz)),  # type: ignore[misc]
            ("simpy: one line, nothing decided", lambda hertz=hertz: simpy_process(lap, hertz)),  # type: ignore[misc]
            ("pymunk: bodies on one line", lambda hertz=hertz: pymunk_space(lap, hertz)),  # type: ignore[misc]
        ]
        rows.append(_row(f"{hertz} Hz: ours, compiled, all of it", ours, ours, hertz))
        rows += [_row(f"{hertz} Hz: {name}", play(), ours, hertz) for name, play in peers]
    show(
        "twelve karts, ten minutes, one core",
        ("", "kart-steps a second", "a session", "ours is × as fast", "< 20 ms"),
        rows,
    )


def _row(name: str, took: Took, ours: Took, hertz: int) -> tuple[str, ...]:
    session_s = 60 * MINUTES * hertz * KARTS / took.rate
    target = verdict(session_s < 0.020) if took is ours and hertz == 60 else ""
    shown = f"{session_s * 1000:.1f} ms" if session_s < 1 else f"{session_s:.1f} s"
    return name, f"{took.rate:,.0f}", shown, f"{ours.rate / took.rate:.1f}", target


def _karts() -> None:
    rows, first = [], None
    for karts in (6, 12, 24, 40, 60):
        took = compiled_session(karts, 60, gap_s=GAP_S)
        each = took.seconds / took.kart_steps * 1e9
        first = first or each
        rows.append((f"{karts} karts", f"{each:.0f}", f"{each / first:.2f}"))
    show("cost a kart, 60 Hz, the same track", ("", "ns a kart-step", "× of 6 karts"), rows)


def _many(sessions: int, threads: int) -> None:
    rows = []
    for hertz, most_s in ((20, 60.0), (60, 180.0)):
        took_s = many(hertz, sessions, threads) * MANY / sessions
        rows.append((f"{hertz} Hz", f"{took_s:.0f} s", f"{most_s:.0f} s", verdict(took_s < most_s)))
    title = f"{MANY:,} sessions on {threads} threads (from {sessions:,})"
    show(title, ("", "takes", "target", "kept"), rows)


if __name__ == "__main__":
    main()
