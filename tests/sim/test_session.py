"""A newcomer runs a first session with nothing but the "next" line: the whole venue, in virtual time."""

from __future__ import annotations

import asyncio
import re
from collections.abc import Callable

import async_solipsism
import pytest

from signals.mqtt.link import Owner
from signals.sequence.stage import Stage
from signals.venue.model import Venue
from signals.words import Phase
from sim import demo
from sim.view.desk import Desk
from sim.view.hands import Hands
from sim.view.hint import next_step

KEY = re.compile(r"\((\w+)\)")
LONGEST_S = 420.0
RED_AFTER_S, CHEQUERED_AFTER_S = 4.0, 14.0


class Newcomer:
    """Presses the key that the line names, answers yes, and knows only two more: red, and chequered."""

    def __init__(self, stage: Stage) -> None:
        self.desk = Desk(stage.venue)
        owner = Owner(
            on_message=lambda arrived: self.desk.hear(arrived, self.now_s()),
            on_up=lambda: self.desk.linked(up=True),
            on_down=lambda _: self.desk.linked(up=False),
        )
        self.link = stage.link(f"post-{self.desk.post}", subscriptions=self.desk.subscriptions(), owner=owner)
        self.hands = Hands(self.desk, lambda topic, payload: self.link.publish(topic, payload, qos=1))
        self.refused: list[str] = []

    def now_s(self) -> float:
        return asyncio.get_running_loop().time()

    async def wait(self, seconds: float) -> None:
        for _ in range(round(seconds / 0.05)):
            await asyncio.sleep(0.05)
            self.desk.tick(self.now_s())
            self.hands.tick(self.now_s())

    async def press(self, key: str) -> None:
        self.hands.press(key, self.now_s())
        await self.wait(0.2)
        if self.hands.question is not None:
            self.hands.press("Enter", self.now_s())
            await self.wait(0.2)
        outcome = self.desk.outcome
        if outcome is not None and outcome.accepted is False:
            self.refused += [outcome.title, *outcome.lines]

    async def follow(self, until: Callable[[], bool]) -> None:
        """Follow the line until something is so."""
        begun_s = self.now_s()
        while not until():
            assert self.now_s() - begun_s < LONGEST_S, next_step(self.desk, self.now_s())
            named = KEY.search(next_step(self.desk, self.now_s()).text)
            if named:
                await self.press(named[1])
            await self.wait(1.0)

    def phase(self) -> Phase | None:
        return self.desk.state.phase if self.desk.state else None


async def session(venue: Venue) -> Newcomer:
    async with Stage(venue, seed=1) as stage:
        newcomer = Newcomer(stage)
        link = asyncio.ensure_future(newcomer.link.run())
        desk, hands = newcomer.desk, newcomer.hands
        await newcomer.wait(2.0)
        assert newcomer.phase() is Phase.CLOSED
        await newcomer.follow(lambda: len(desk.picture.out()) >= 2)
        await newcomer.wait(RED_AFTER_S)
        hands.press("Space", newcomer.now_s())
        await newcomer.wait(7.0)
        assert desk.all_stand(0.5)
        await newcomer.follow(lambda: not desk.picture.holds() and not desk.picture.recovering())
        await newcomer.wait(CHEQUERED_AFTER_S)
        hands.press("F", newcomer.now_s())
        await newcomer.follow(lambda: newcomer.phase() is Phase.CLOSED)
        link.cancel()
        await asyncio.gather(link, return_exceptions=True)
        return newcomer


@pytest.mark.gate
def test_a_newcomer_runs_a_first_session_unaided(venue: Venue, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(demo, "GROUP_SIZE", 2)  # two are enough, and quicker home
    with asyncio.Runner(loop_factory=async_solipsism.EventLoop) as runner:
        newcomer = runner.run(session(venue))
    desk = newcomer.desk
    assert not desk.picture.out()
    assert not desk.picture.holds()
    assert desk.rejects == 0
    # Pressing while the picture changes is refused, and pressing again is all it takes.
    assert all("look again" in line for line in newcomer.refused[1::2]), newcomer.refused
    assert len(newcomer.refused) <= 4, newcomer.refused
