"""From the model to the running system: the real service decides as the pure core does on the same facts.

A reachable state is sampled by walking the core; the real controller begins from it by its own restart,
on the in-memory bus in virtual time, with simulated nodes, delays that reorder what different clients
say, lost connections and restarts. Then every entry of its journal is decided once more by the pure
core, and everything it published is compared with what that core makes of the same state.
"""

from __future__ import annotations

import asyncio
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import count, pairwise
from pathlib import Path
from random import Random
from typing import Any

import async_solipsism
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from signals.controller import publish, service
from signals.controller.layout import layout_of
from signals.controller.messages import aspect_command, limit_command
from signals.controller.record import Record
from signals.controller.restart import Beginning, begin
from signals.core.machine import Core
from signals.journal import Journal, Kind
from signals.mqtt.contract import Entry, Inject, MonitorStatus
from signals.words import Aspect
from tests.controller.made import harbour
from tests.controller.town import UTC_MS, Town
from tests.proof.asked import ask, walk
from tests.proof.shadow import Shadow
from tests.sequence.playing import core_for
from tests.virtual import virtual

SETTLED_S = 2.0
FAULTS = ("head-lost", "head-back", "kart-lost", "kart-back", "reboot")
OPS = (*["ask"] * 30, *["sees"] * 5, *["fault"] * 3, "drop", "partition", "kill", "tripped", "ok", "long")


def begun(dice: Random, folder: Path, steps: int) -> Core:
    """Leave a journal whose last change is a sampled state."""
    core = core_for(layout_of(harbour(), UTC_MS))
    state = walk(dice, core, steps, UTC_MS)
    journal = Journal(folder / "journal.sqlite")
    body = {"what": "sampled", "post": "E", "fields": {}, "state": core.dump(state)}
    journal.append(Kind.CHANGE, body, at=UTC_MS, boot=state.boot, seq=state.serial)
    journal.close()
    return core


class Story:
    """One run: what is done to the town, drawn by dice."""

    def __init__(self, dice: Random, town: Town, core: Core) -> None:
        self.dice = dice
        self.town = town
        self.core = core

    async def play(self, steps: int) -> None:
        for _ in range(steps):
            await self._step(self.dice.choice(OPS))
            await asyncio.sleep(self.dice.choice((0.0, 0.0, 0.02, 0.15)))
        await asyncio.sleep(SETTLED_S)

    async def _step(self, op: str) -> None:
        dice, town = self.dice, self.town
        match op:
            case "ask":
                self._ask()
            case "sees":
                kart, sector = dice.choice(self.core.layout.karts), dice.choice(self.core.layout.sectors)
                town.sees(kart, sector, dice.choice((0.0, 20.0)), button=dice.random() < 0.1)
            case "fault":
                node = dice.choice([node.id for node in town.venue.nodes if node.heads or node.karts])
                fault = Inject(id="f1", event=dice.choice(FAULTS))
                town.say("instructor", "inject", node, message=fault)
            case "drop":
                town.broker.drop("controller")
                await asyncio.sleep(0.5)
            case "partition":
                town.broker.partition("controller")
                await asyncio.sleep(dice.choice((0.2, 0.8)))
                town.broker.heal("controller")
            case "kill":
                await town.kill("controller")
                town.journal.close()
                await town.start("controller")
            case "tripped" | "ok":
                said = MonitorStatus(status="ok" if op == "ok" else "tripped")
                town.say("monitor", "monitor", "status", message=said, retain=True)
            case "long":
                await asyncio.sleep(dice.choice((1.0, 3.5, 6.0)))

    def _ask(self) -> None:
        state = self.town.state
        holds = [hold_key(hold) if hold.what != "recovery" else "" for hold in state.holds]
        word, post, fields = ask(self.dice, self.core, str(state.phase), holds)
        if "entries" in fields:
            fields["entries"] = [
                Entry(number=m.kart, driver=m.driver, class_=m.class_) for m in fields["entries"]
            ]
        self.town.send(post, word, **fields)


def hold_key(hold: Any) -> str:
    return ":".join(part for part in (hold.what, hold.where, hold.post) if part)


def compare(town: Town, core: Core) -> Shadow:
    """Decide the whole journal once more, and hold what was published to it."""
    shadow = Shadow(core)
    shadow.follow(town.journal.entries())
    assert shadow.state is not None
    orders = [(state, core.picture(state)) for state in shadow.states]
    for head in core.layout.heads:
        due = [
            _told(aspect_command(state, "", picture.aspects[head], town.venue.choices))
            for state, picture in orders
        ]
        _published(town, ("head", head, "aspect"), due)
    for kart in core.layout.karts:
        limits = [_told(limit_command(state, "", picture.karts[kart])) for state, picture in orders]
        _published(town, ("kart", str(kart), "limit"), limits)
    beats = {(state.boot, state.epoch, picture.stopped, picture.testing) for state, picture in orders}
    assert {(beat.boot, beat.epoch, beat.stop, beat.test) for beat in town.beats()} <= beats
    return shadow


def _told(command: Any) -> Any:
    """Give an order without its number and its addressee."""
    return tuple(getattr(command, name) for name in command.__struct_fields__ if name not in ("seq", "inc"))


def _published(town: Town, levels: tuple[str, ...], due: list[Any]) -> None:
    """Hold one topic to what was due: everything said was due then, in order, and the last stands."""
    said = [_told(noted.message) for noted in town.noted if noted.levels == levels]
    rest = iter(due)
    last = next(rest)
    for one in said:
        while one != last:
            last = next(rest, None)
            assert last is not None, (levels, one)
    assert said[-1] == due[-1], levels


def guaranteed(town: Town) -> None:
    """What the exploration of the node protocol takes for granted of a controller."""
    beats = town.beats()
    for before, after in pairwise(beats):
        if before.boot == after.boot:
            assert after.seq > before.seq
            assert after.epoch >= before.epoch
            assert after.stop == before.stop or after.epoch > before.epoch, "one epoch, one stop flag"
    stopped = {(beat.boot, beat.epoch) for beat in beats if beat.stop}
    for head in town.venue.heads:
        _addressed([one.message for one in town.noted if one.levels == ("head", head.id, "aspect")], stopped)


def _addressed(orders: list[Any], stopped: set[tuple[str, int]]) -> None:
    for before, after in zip([None, *orders], orders, strict=False):
        if after.aspect == "green":
            assert (after.boot, after.epoch) not in stopped, "nothing permissive while a stop stands"
            known = before is not None and before.boot == after.boot and before.inc == after.inc
            assert known or not after.inc, "a new incarnation is never addressed with green first"
        if before is not None and before.boot == after.boot:
            assert after.epoch >= before.epoch
            assert after.seq > before.seq


@contextmanager
def restarted(*, restarted: bool) -> Iterator[None]:
    """Let the service begin by its restart, or in the very state, as if it had never been away."""
    with pytest.MonkeyPatch.context() as patch:
        if not restarted:
            first = count()
            patch.setattr(service, "begin", lambda *given: _begun(begin(*given), anew=next(first) > 0))
        yield


def _begun(beginning: Beginning, *, anew: bool) -> Beginning:
    return beginning if anew else Beginning(beginning.state)


async def run(seed: int, *, steps: int) -> Shadow:
    dice = Random(seed)  # noqa: S311 - a story, not a secret
    with tempfile.TemporaryDirectory() as name, restarted(restarted=dice.random() < 0.3):
        core = begun(dice, Path(name), dice.choice((0, 3, 12, 60)))
        town = Town(Path(name))
        for client in ("gateway", "instructor", "monitor", *(f"post-{p}" for p in core.layout.posts)):
            town.broker.delay(client, lambda: dice.choice((0.0, 0.01, 0.06)))
        async with town:
            await Story(dice, town, core).play(steps)
            shadow = compare(town, core)
            guaranteed(town)
        return shadow


def decided(seed: int, steps: int) -> Shadow:
    with asyncio.Runner(loop_factory=async_solipsism.EventLoop) as runner:
        return runner.run(run(seed, steps=steps))


pytestmark = pytest.mark.filterwarnings("ignore:delta is less than resolution")  # two delays a hair apart
QUIET = settings(deadline=None, database=None, derandomize=True, suppress_health_check=list(HealthCheck))


@settings(QUIET, max_examples=6)
@given(seed=st.integers(0, 2**32))
def test_the_service_decides_as_the_core_does(seed: int) -> None:
    assert decided(seed, 25).decisions > 0


@pytest.mark.gate
@settings(QUIET, max_examples=20)
@given(seed=st.integers(0, 2**32))
def test_the_service_decides_as_the_core_does_at_length(seed: int) -> None:
    assert decided(seed, 40).decisions > 0


def test_a_controller_that_says_something_else_is_found_out(monkeypatch: pytest.MonkeyPatch) -> None:
    def wrong(state: Any, inc: str, due: Any, choices: Any) -> Any:
        aspect = Aspect.DARK if due[0] is Aspect.RED else due[0]
        return aspect_command(state, inc, (aspect, *due[1:]), choices)

    monkeypatch.setattr(publish, "aspect_command", wrong)
    with pytest.raises(AssertionError, match="aspect"):
        decided(1, 1)


def test_a_record_that_tells_something_else_is_found_out(monkeypatch: pytest.MonkeyPatch) -> None:
    acted = Record.acted

    def wrong(record: Any, state: Any, event: Any, decision: Any, answer: Any, call: Any = None) -> Any:
        return acted(record, state, event, decision, replace(answer, accepted=not answer.accepted), call)

    monkeypatch.setattr(Record, "acted", wrong)
    with pytest.raises(AssertionError):
        decided(1, 10)


@virtual
async def test_a_lent_head_that_boots_anew_right_after_a_start_is_not_shown_its_green_again(
    tmp_path: Path,
) -> None:
    async with Town(tmp_path) as town:
        await town.ask("desk", "lend")
        await town.ask("desk", "show", head="h1", aspect="green")
        await town.until(lambda: town.shows("h1") is Aspect.GREEN)
        node = next(node.id for node in town.venue.nodes if "h1" in node.heads)
        town.say("instructor", "inject", node, message=Inject(id="f1", event="reboot"))
        await town.until(lambda: town.shows("h1") is not Aspect.GREEN)
        await asyncio.sleep(SETTLED_S)
        assert town.shows("h1") is not Aspect.GREEN
        guaranteed(town)
