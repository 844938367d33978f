"""The simulated world as a running part: paces the scene, tells where karts are, takes events.

It says `world` (the truth, for screens), and as the venue's gateway `kart/<n>/where` and
`loop/<id>/passed`. It hears what limiters took and what heads show, and never reads `state`.
"""

from __future__ import annotations

import asyncio
from collections import deque
from collections.abc import Callable, Iterable
from dataclasses import dataclass

import msgspec
from msgspec.structs import replace

from signals.clock import Clock
from signals.mqtt.contract import (
    AspectCommand,
    CapsCommand,
    Inject,
    Injected,
    LimitCommand,
    Message,
    Passed,
    Shown,
    State,
    Taken,
    Where,
    WorldFinding,
)
from signals.mqtt.link import Arrived, Owner
from signals.mqtt.topics import Topics
from signals.part import MakeLink
from signals.sequence.rates import Rates
from signals.venue.model import Venue
from signals.words import PIT, Aspect
from sim.engine import step
from sim.ground import Ground
from sim.incidents import apply
from sim.practice import Began, Happened, Practice, Seen
from sim.referee import Referee
from sim.rules import Finding
from sim.scene import STEP_S, Heard, Kart, Scene
from sim.showing import befallen, world_view


@dataclass(frozen=True, slots=True)
class Pace:
    """How often the world wakes, steps and shows itself, and reports karts that stay in their sector."""

    steps_a_wake: int = 2
    """30 wakes a second."""
    where_every: int = 6
    """Wakes between two reports of a kart: 5 a second."""

    @property
    def wake_s(self) -> float:
        """Seconds between two wakes."""
        return self.steps_a_wake * STEP_S


SEEN_KEPT = 12
"""The referee's findings that are told on and on."""
SEEN_NEW_S, SEEN_EVERY = 0.5, 30
"""A new one is told in every view for so long; all of them every so many wakes."""
REFEREE = "reader.referee"
"""The client that hears `state` for the referee alone: what drives has no way to it."""
DIGEST_EVERY = 30
"""Wakes between two digests: one a second."""
CATCH_UP_WAKES = 15
"""A world held up for longer (half a second) lets the rest of that time go."""

_ENCODE = msgspec.json.Encoder().encode
_TAKEN = msgspec.json.Decoder(Taken)
_SHOWN = msgspec.json.Decoder(Shown)
_ASPECT = msgspec.json.Decoder(AspectCommand)
_STATE = msgspec.json.Decoder(State)
_LIMIT = msgspec.json.Decoder(LimitCommand)
_CAPS = msgspec.json.Decoder(CapsCommand)
_INJECT = msgspec.json.Decoder(Inject)


class World:
    """The world of a venue.

    Args:
        venue: the track and its karts.
        make_link: makes the links of the clients `world` and `gateway`.
        seed: everything random follows from it.
        rates: incidents that chance brings: events, and how many of each an hour.
        practice: where what was seen and what happened is written down.
        clock: stamps what is said.
        pace: how often it wakes and reports; by default as screens want it.

    Attributes:
        scene: the present.
        late_steps: steps that were taken more than a wake after their time, or let go.
        rejects: messages that could not be read.

    """

    def __init__(
        self,
        venue: Venue,
        make_link: MakeLink,
        *,
        seed: int = 0,
        clock: Clock | None = None,
        rates: Rates = (),
        practice: Practice | None = None,
        pace: Pace | None = None,
    ) -> None:
        self.ground = Ground(venue)
        self.scene = replace(self.ground.begin(seed), rates=rates)
        self.referee = Referee(self.ground)
        self._practice = practice
        self._paced = pace or Pace()
        self._seen: deque[WorldFinding] = deque(maxlen=SEEN_KEPT)
        self._seen_s = float("-inf")
        self._there: frozenset[tuple[str, int]] = frozenset()
        self.late_steps = 0
        self.rejects = 0
        self._clock = clock or Clock()
        self._topics = Topics.of(venue.id, simulated=venue.simulated)
        self._taken: dict[int, tuple[float, float]] = {}
        self._shown: dict[str, tuple[Aspect, int | None, float]] = {}
        self._numbers: dict[str, int | None] = {}
        self._boosts: dict[int, int] = {}
        self._ramps: dict[int, tuple[float, float]] = {}
        self._boosts_mps: dict[int, float] = {}
        self._heard = Heard(
            taken=self._taken,
            shown=self._shown,
            boosts=self._boosts,
            ramps=self._ramps,
            boosts_mps=self._boosts_mps,
        )
        self._said: dict[int, tuple[str, bool]] = {}
        self._seqs: dict[str, int] = {}
        self._boot = ""
        self._wakes = 0
        self._ups = {name: asyncio.Event() for name in ("world", "gateway", REFEREE)}
        name = self._topics.name
        self._link = make_link(
            "world",
            subscriptions=(
                (name("kart", "+", "taken"), 0),
                (name("kart", "+", "limit"), 1),
                (name("kart", "+", "caps"), 1),
                (name("head", "+", "shown"), 0),
                (name("head", "+", "aspect"), 1),
                (name("inject", "world"), 1),
            ),
            owner=Owner(on_message=self._hear, on_up=self._ups["world"].set),
        )
        self._gateway = make_link("gateway", owner=Owner(on_up=self._ups["gateway"].set))
        self._tower = make_link(
            REFEREE,
            subscriptions=((name("state"), 1),),
            owner=Owner(on_message=self._hear_state, on_up=self._ups[REFEREE].set),
        )

    async def run(self, ready: Callable[[], None]) -> None:
        """Run the world at the loop's pace until cancelled; `ready` once its links are up."""
        self._boot = _boot(self._clock.now_ms())
        self._write_began()
        async with asyncio.TaskGroup() as group:
            group.create_task(self._link.run())
            group.create_task(self._gateway.run())
            group.create_task(self._tower.run())
            for up in self._ups.values():
                await up.wait()
            ready()
            await self._pace()

    async def _pace(self) -> None:
        loop = asyncio.get_running_loop()
        due_s, wake_s = loop.time(), self._paced.wake_s
        while True:
            due_s += wake_s
            await asyncio.sleep(max(0.0, due_s - loop.time()))
            behind = int((loop.time() - due_s) / wake_s)
            self.late_steps += behind * self._paced.steps_a_wake
            due_s += behind * wake_s
            for _ in range(1 + min(behind, CATCH_UP_WAKES)):
                self._wake()
            self._show()

    def _wake(self) -> None:
        self._wakes += 1
        self._move()
        self._found(self.referee.observe(self.scene))
        self._note_events()
        for kart in self.scene.karts:
            self._report(kart)

    def _move(self) -> None:
        """Take the steps of a wake."""
        for _ in range(self._paced.steps_a_wake):
            before = self.scene
            self.scene = step(self.ground, before, self._heard)
            self._loops(before)

    def _report(self, kart: Kart) -> None:
        """Tell where a kart is: at its turn, and at once when its sector or button changes."""
        sector = self.ground.sector(kart)
        button = kart.button_until_s > self.scene.time_s
        if (
            self._said.get(kart.number) == (sector, button)
            and (self._wakes + kart.number) % self._paced.where_every
        ):
            return
        self._said[kart.number] = (sector, button)
        where = Where(
            boot=self._boot,
            seq=self._next(f"kart/{kart.number}"),
            sector=sector,
            at_m=None if sector == PIT else round(kart.at_m, 2),
            speed_kmh=round(abs(kart.v_mps) * 3.6, 1),
            in_pit=sector == PIT,
            button=button,
        )
        self._gateway.publish(self._topics.name("kart", str(kart.number), "where"), _ENCODE(where))

    def _loops(self, before: Scene) -> None:
        """Tell which timing loops karts drove over in a step."""
        track, venue = self.ground.track, self.ground.venue
        for was, kart in zip(before.karts, self.scene.karts, strict=True):
            if was.at_m == kart.at_m and was.on_pit_lane == kart.on_pit_lane:
                continue
            start_m, moved_m = _driven(self.ground, was, kart)
            for loop in venue.loops:
                if loop.sector == PIT and not kart.on_pit_lane:
                    continue  # it lies in the pit lane
                if track.ahead_m(start_m, loop.at_m) < moved_m:
                    passed = Passed(boot=self._boot, seq=self._next(f"loop/{loop.id}"), kart=kart.number)
                    self._gateway.publish(
                        self._topics.name("loop", loop.id, "passed"), _ENCODE(passed), qos=1
                    )

    def _next(self, topic: str) -> int:
        self._seqs[topic] = self._seqs.get(topic, 0) + 1
        return self._seqs[topic]

    def _show(self) -> None:
        seen = list(self._seen) if self._tells_seen() else []
        view = world_view(
            self.ground,
            self.scene,
            at_ms=self._clock.now_ms(),
            seen=seen,
            late_steps=self.late_steps,
            digest="" if self._wakes % DIGEST_EVERY else self.scene.digest(),
        )
        self._link.publish(self._topics.name("world"), _ENCODE(view))

    def _tells_seen(self) -> bool:
        """Whether what was seen is in this view: it is new, or its turn has come."""
        return self.scene.time_s - self._seen_s < SEEN_NEW_S or self._wakes % SEEN_EVERY == 0

    def _found(self, findings: Iterable[Finding]) -> None:
        """Tell and write down what the referee saw."""
        for finding in findings:
            told = WorldFinding(
                id=(self._seen[-1].id if self._seen else 0) + 1,
                at_ms=self._clock.now_ms(),
                rule=finding.rule,
                karts=list(finding.karts),
                where=finding.where,
                at_m=finding.at_m,
                said=finding.said,
            )
            self._seen.append(told)
            self._seen_s = self.scene.time_s
            if self._practice is not None:
                self._practice.write(Seen(time_s=round(self.scene.time_s, 3), finding=told))

    def _note_events(self) -> None:
        """Write down what has befallen the world since the last look, asked for or by chance."""
        if self._practice is None:
            return
        there = befallen(self.scene)
        for event, kart in sorted(there - self._there):
            self._practice.write(
                Happened(
                    at_ms=self._clock.now_ms(),
                    time_s=round(self.scene.time_s, 3),
                    event=event,
                    kart=kart or None,
                )
            )
        self._there = there

    def _write_began(self) -> None:
        if self._practice is not None:
            incidents = dict(self.scene.rates)
            began = Began(
                at_ms=self._clock.now_ms(),
                venue=self.ground.venue.id,
                seed=self.scene.seed,
                incidents=incidents,
            )
            self._practice.write(began)

    def _hear_state(self, arrived: Arrived) -> None:
        """Hear the controller's picture, for the referee alone."""
        try:
            state = _STATE.decode(arrived.payload)
        except msgspec.DecodeError:
            self.rejects += 1
        else:
            self._found(self.referee.hear(state, self.scene))

    def _hear(self, arrived: Arrived) -> None:
        try:
            match self._topics.split(arrived.topic):
                case ("kart", number, "taken"):
                    taken = _TAKEN.decode(arrived.payload)
                    self._taken[int(number)] = (taken.limit_kmh, self.scene.time_s)
                case ("kart", number, "limit"):
                    # What a limiter obeys is known from `taken`; only the boosts are read here.
                    self._boosts[int(number)] = _LIMIT.decode(arrived.payload).boosts
                case ("kart", number, "caps"):
                    caps = _CAPS.decode(arrived.payload)
                    self._ramps[int(number)] = (caps.fall_mps2, caps.rise_mps2)
                    self._boosts_mps[int(number)] = caps.boost_kmh / 3.6
                case ("head", head, "shown"):
                    shown = _SHOWN.decode(arrived.payload)
                    self._shown[head] = (shown.aspect, self._numbers.get(head), self.scene.time_s)
                case ("head", head, "aspect"):
                    # What a head shows is known from `shown`; only the number on it is read here.
                    self._numbers[head] = _ASPECT.decode(arrived.payload).number
                case ("inject", "world"):
                    self._befall(_INJECT.decode(arrived.payload))
        except (msgspec.DecodeError, ValueError):
            self.rejects += 1

    def _befall(self, event: Inject) -> None:
        scene, said = apply(self.ground, self.scene, event)
        self.scene = scene or self.scene
        answer: Message = Injected(id=event.id, done=scene is not None, said=said)
        self._link.publish(self._topics.name("injected", "world"), _ENCODE(answer), qos=1)


def _driven(ground: Ground, was: Kart, kart: Kart) -> tuple[float, float]:
    """Give where along the lap a kart drove in a step, and how far; the pit lane's ends belong to it."""
    length_m = ground.track.length_m
    if was.on_pit_lane and kart.on_pit_lane:
        return 0.0, 0.0
    start_m = ground.venue.pit_exit_m - 1e-6 if was.on_pit_lane else was.at_m
    end_m = ground.venue.pit_entry_m + 1e-6 if kart.on_pit_lane else kart.at_m
    moved_m = (end_m - start_m) % length_m
    return start_m, moved_m if moved_m < length_m / 2 else 0.0


def _boot(now_ms: int) -> str:
    """Make a boot id of the time: base 36, as the contract has it."""
    digits = ""
    while now_ms:
        now_ms, digit = divmod(now_ms, 36)
        digits = "0123456789abcdefghijklmnopqrstuvwxyz"[digit] + digits
    return f"w{digits}"[:16]
