from __future__ import annotations

import asyncio
import contextlib
import shutil
from collections import Counter
from collections.abc import Callable
from itertools import chain
from pathlib import Path

import pytest

from signals.mqtt.access import Access, access_list, located_by_gateway, mosquitto_acl, users
from signals.mqtt.broker import embedded_broker
from signals.mqtt.channels import CHANNELS, Role
from signals.mqtt.link import Arrived, Credentials, Link, Owner
from signals.mqtt.memory import MemoryBroker
from signals.mqtt.topics import Topics
from signals.part import MakeLink
from signals.venue.model import Venue
from tests.mqtt.small import small_venue

WITHIN_S = 10.0
IDS = {
    "head": ("h1", "h2"),
    "kart": ("1", "2"),
    "node": ("n1", "n2", "k1", "k2", "b1"),
    "input": ("alarm",),
    "loop": ("l1",),
    "post": ("desk", "p1"),
    "addressee": ("n1", "n2", "k1", "k2", "b1", "world"),
}
SIM, REAL = small_venue(), small_venue(simulated=False)


def every_topic(simulated: bool) -> list[str]:
    topics = Topics.of("small", simulated=simulated)
    found = []
    for channel in CHANNELS:
        if simulated or not channel.simulated_only:
            names = [dict.fromkeys(channel.places, name) for name in IDS.get("".join(channel.places), ("",))]
            found += [topics.name(channel.at(named)) for named in names]
    return found


ALLOWED_SIM = {
    "controller": ["beat", "state", "group", "head/*/aspect", "kart/*/limit", "kart/*/caps", "answer/*",
                   "controller/status"],
    "monitor": ["monitor/status", "monitor/trip"],
    "node-n1": ["head/h1/shown", "node/n1/status", "injected/n1"],
    "node-n2": ["head/h2/shown", "node/n2/status", "injected/n2"],
    "node-k1": ["kart/1/taken", "node/k1/status", "injected/k1"],
    "node-k2": ["kart/2/taken", "node/k2/status", "injected/k2"],
    "node-b1": ["input/alarm/state", "node/b1/status", "injected/b1"],
    "post-desk": ["call/desk", "monitor/reset/desk"],
    "post-p1": ["call/p1", "monitor/reset/p1"],
    "gateway": ["kart/*/where", "loop/l1/passed"],
    "world": ["world", "injected/world"],
    "instructor": ["inject/*"],
    "reader": [],
    "board": [],
}  # fmt: skip
"""Who may publish what, written by hand; `*` stands for any one level."""


def expected(user: str | None, topic: str) -> bool:
    below = topic.removeprefix("kerblight-sim/1/small/").split("/")
    return any(
        len(levels := pattern.split("/")) == len(below)
        and all(due in ("*", level) for due, level in zip(levels, below, strict=True))
        for pattern in ALLOWED_SIM.get(user or "reader", [])
    )


def test_every_user_on_every_topic_may_publish_what_the_table_says() -> None:
    access = access_list(SIM)
    assert set(access.users) == set(ALLOWED_SIM)
    for user in (*ALLOWED_SIM, None, "stranger"):
        for topic in every_topic(simulated=True):
            assert access.may_publish(user, topic) is expected(user, topic), (user, topic)


@pytest.mark.parametrize("venue", [SIM, REAL], ids=["simulated", "real"])
def test_every_topic_has_exactly_one_publisher(venue: Venue) -> None:
    access = access_list(venue)
    for topic in every_topic(simulated=venue.simulated):
        sayers = [user for user in access.users if access.may_publish(user, topic)]
        assert len(sayers) == 1, (topic, sayers)


def test_a_node_reads_its_own_commands_and_never_the_state() -> None:
    access, name = access_list(SIM), Topics.of("small", simulated=True).name
    reads = {topic for topic in every_topic(simulated=True) if access.may_read("node-n1", topic)}
    assert reads == {name("beat"), name("monitor/trip"), name("head/h1/aspect"), name("inject/n1")}
    reads = {topic for topic in every_topic(simulated=True) if access.may_read("node-k2", topic)}
    assert reads == {
        name("beat"), name("monitor/trip"), name("kart/2/limit"), name("kart/2/caps"), name("inject/k2"),
    }  # fmt: skip


def test_names_of_persons_reach_staff_and_the_drivers_board_only() -> None:
    access, name = access_list(SIM), Topics.of("small", simulated=True).name
    staff = {"controller", "monitor", "post-desk", "post-p1", "instructor"}
    for topic, due in ((name("group"), {*staff, "board"}), (name("call/p1"), staff)):
        assert {user for user in (*access.users, None) if access.may_read(user, topic)} == due


def test_the_controller_and_the_monitor_cannot_see_the_simulators_truth() -> None:
    access, name = access_list(SIM), Topics.of("small", simulated=True).name
    for user in ("controller", "monitor"):
        for topic in (name("world"), name("inject/world"), name("injected/world")):
            assert not access.may_read(user, topic)


def test_real_equipment_has_no_simulator_no_instructor_and_no_anonymous_reader() -> None:
    access = access_list(REAL)
    assert not {"world", "instructor", None} & set(access.grants)
    filters = chain.from_iterable((*g.publishes, *g.reads) for g in access.grants.values())
    assert all(f.startswith("kerblight/1/small/") for f in filters)


def test_a_karts_place_comes_from_its_node_unless_a_gateway_or_the_simulator_locates_it() -> None:
    assert located_by_gateway(SIM) == {1, 2}
    assert located_by_gateway(REAL) == frozenset()
    where = Topics.of("small", simulated=False).name("kart", "1", "where")
    assert access_list(REAL).may_publish("node-k1", where)
    assert not access_list(SIM).may_publish("node-k1", where.replace("kerblight/", "kerblight-sim/"))


def test_the_rendered_list_says_the_same() -> None:
    anonymous, *sections = mosquitto_acl(access_list(SIM)).split("\nuser ")
    assert "write" not in anonymous
    assert [section.split("\n")[0] for section in sections] == list(users(SIM))
    p1 = next(section for section in sections if section.startswith("post-p1"))
    assert "topic write kerblight-sim/1/small/call/p1\n" in p1
    assert "topic write kerblight-sim/1/small/call/desk" not in p1


ANONYMOUS = "anonymous"


class Crowd:
    """Every user and a nameless one, all reading everything; a payload names who sent it."""

    def __init__(self, make: MakeLink, access: Access) -> None:
        self.due = {user: due(user, access) for user in (*access.users, ANONYMOUS)}
        self.heard: dict[str, Counter[tuple[str, str]]] = {user: Counter() for user in self.due}
        self._changed = asyncio.Event()
        self._ups: list[str] = []
        self.links = [self._join(make, user) for user in self.due]

    def _join(self, make: MakeLink, user: str) -> Link:
        def take(message: Arrived) -> None:
            self.heard[user][message.payload.decode(), message.topic] += 1
            self._changed.set()

        def rise() -> None:
            self._ups.append(user)
            self._changed.set()

        owner = Owner(on_message=take, on_up=rise)
        return make(user, subscriptions=(("kerblight-sim/#", 0),), owner=owner)

    async def run(self) -> None:
        tasks = [asyncio.create_task(link.run()) for link in self.links]
        try:
            await self._until(lambda: len(self._ups) == len(self.links))
            for link in self.links:
                speak(link)
            await self._until(lambda: sum(map(len, self.heard.values())) >= sum(map(len, self.due.values())))
        finally:
            for task in tasks:
                task.cancel()
            await asyncio.gather(*tasks, return_exceptions=True)
        assert self.heard == self.due

    async def _until(self, holds: Callable[[], bool]) -> None:
        with contextlib.suppress(TimeoutError):
            async with asyncio.timeout(WITHIN_S):
                while not holds():
                    self._changed.clear()
                    await self._changed.wait()


def speak(link: Link) -> None:
    """Publish on every topic, the denied ones first: once the others arrived, those are decided too."""
    for topic in sorted(every_topic(simulated=True), key=lambda topic: expected(link.client, topic)):
        assert link.publish(topic, link.client.encode(), qos=1), "a denied publish looks successful"


def due(reader: str, access: Access) -> Counter[tuple[str, str]]:
    name = None if reader == ANONYMOUS else reader
    return Counter(
        (sayer, topic)
        for sayer in ALLOWED_SIM
        for topic in every_topic(simulated=True)
        if expected(sayer, topic) and access.may_read(name, topic)
    )


async def test_memory_hands_everybody_exactly_what_is_granted() -> None:
    access = access_list(SIM)
    broker = MemoryBroker(access)

    def make(client: str, **given: object) -> Link:
        known = None if client == ANONYMOUS else Credentials(client, "")
        return broker.link(client, credentials=known, **given)  # type: ignore[arg-type]

    await Crowd(make, access).run()


@pytest.mark.broker
@pytest.mark.skipif(not shutil.which("mosquitto"), reason="mosquitto is not installed")
async def test_mosquitto_hands_everybody_exactly_what_is_granted(tmp_path: Path) -> None:
    access = access_list(SIM)
    async with embedded_broker(SIM, tmp_path, "mosquitto") as running:
        assert running.credentials(ANONYMOUS) is None
        await Crowd(running.link, access).run()


def test_roles_without_a_part_to_play_are_not_forgotten() -> None:
    assert {role for role, _ in users(SIM).values()} == set(Role)
