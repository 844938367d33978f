"""Telemetry outwards by the shipped files: the venue's broker and a second one, two real mosquitto."""

from __future__ import annotations

import asyncio
import getpass
import shutil
import ssl
from collections.abc import AsyncIterator, Callable
from contextlib import AsyncExitStack, asynccontextmanager
from dataclasses import dataclass, field
from itertools import count
from pathlib import Path

import aiomqtt
import msgspec
import pytest
import trustme

from signals.mqtt.channels import CHANNELS
from signals.mqtt.keys import Keys
from signals.venue import load
from tests.broker.site import WITHIN_S, holder_of, make_keys, mosquitto, running
from tests.ports import free_port

CONFIGS = Path(__file__).parents[2] / "configs"
FILES = CONFIGS / "broker"
PLACE = "/etc/kerblight/outside"
ROOT = "kerblight/1/harbour-loop"
SIMULATED = load(CONFIGS / "harbour-loop.toml")
VENUE = msgspec.structs.replace(
    SIMULATED, nodes=tuple(msgspec.structs.replace(node, simulated=False) for node in SIMULATED.nodes)
)

pytestmark = [
    pytest.mark.broker,
    pytest.mark.gate,
    pytest.mark.skipif(shutil.which("mosquitto") is None, reason="mosquitto is not installed"),
]


@dataclass
class Site:
    """Both brokers, their authorities, and a way to be a client of either."""

    keys: Path
    outside: trustme.CA
    ports: dict[str, int]
    names: count[int] = field(default_factory=count)

    def tls(self, at: str, user: str) -> ssl.SSLContext:
        if at == "venue":
            return Keys(self.keys, holder_of(self.keys, user)).pair(user).context()
        context = ssl.create_default_context()
        self.outside.configure_trust(context)
        self.outside.issue_cert(common_name=user).configure_cert(context)
        return context

    @asynccontextmanager
    async def client(self, at: str, user: str, *topics: str) -> AsyncIterator[aiomqtt.Client]:
        port, tls = self.ports[at], self.tls(at, user)
        name = f"{user}.{next(self.names)}"
        async with aiomqtt.Client("127.0.0.1", port, identifier=name, tls_context=tls) as mqtt:
            for topic in topics:
                await mqtt.subscribe(topic, qos=1)
            yield mqtt


def write_outside(folder: Path, port: int, authority: trustme.CA, *, carelessly: bool) -> Path:
    """Write the second broker's files as an integrator does: other paths, another port, nothing else.

    `carelessly`: those outside let the venue's bridge do anything; the venue must hold by itself.
    """
    folder.mkdir()
    for name, common in (("outside", "outside"), ("outwards", "venue-harbour-loop")):
        issued = authority.issue_cert("127.0.0.1", common_name=common)
        issued.cert_chain_pems[0].write_to_path(folder / f"{name}.crt")
        issued.private_key_pem.write_to_path(folder / f"{name}.key")
    authority.cert_pem.write_to_path(folder / "outside-ca.crt")
    careless = "\nuser venue-harbour-loop\ntopic readwrite #\n"
    acl = (FILES / "outside.acl").read_text(encoding="utf-8") + (careless if carelessly else "")
    (folder / "outside.acl").write_text(acl, encoding="utf-8")
    conf = shipped("outside.conf", folder).replace("listener 8883", f"listener {port} 127.0.0.1")
    made = folder / "outside.conf"
    made.write_text(f"user {getpass.getuser()}\n{conf}", encoding="utf-8")
    return made


def shipped(name: str, folder: Path) -> str:
    return (FILES / name).read_text(encoding="utf-8").replace(PLACE, str(folder))


@pytest.fixture
async def site(tmp_path: Path, request: pytest.FixtureRequest) -> AsyncIterator[Site]:
    ports = {name: free_port() for name in ("venue", "outside")}
    outside, keys = trustme.CA(organization_name="outside"), tmp_path / "keys"
    carelessly = getattr(request, "param", "as shipped") == "careless outside"
    conf = write_outside(tmp_path / "outside", ports["outside"], outside, carelessly=carelessly)
    make_keys(keys, VENUE, port=ports["venue"])
    bridge = shipped("outwards.conf", tmp_path / "outside")
    bridge = bridge.replace("telemetry.example:8883", f"127.0.0.1:{ports['outside']}")
    (keys / "broker/also.d/outwards.conf").write_text(bridge, encoding="utf-8")
    make_keys(keys, VENUE)  # again: what was added stays
    async with AsyncExitStack() as stack:
        await stack.enter_async_context(running(conf, ports["outside"]))
        await stack.enter_async_context(mosquitto(keys, ports["venue"]))
        yield Site(keys, outside, ports)


async def first(client: aiomqtt.Client, wanted: Callable[[str], bool]) -> tuple[str, bytes]:
    async with asyncio.timeout(WITHIN_S):
        async for message in client.messages:
            if wanted(str(message.topic)):
                assert isinstance(message.payload, bytes)
                return str(message.topic), message.payload
    raise AssertionError("the connection ended")


async def until_bridged(site: Site, reader: aiomqtt.Client) -> None:
    """Wait until what is said at the venue comes out at the other side."""
    async with site.client("venue", "node-n1") as node, asyncio.timeout(WITHIN_S):
        arrived = asyncio.create_task(first(reader, lambda topic: topic.endswith("/head/h1/shown")))
        while not arrived.done():
            await node.publish(f"{ROOT}/head/h1/shown", b"{}")
            await asyncio.wait((arrived,), timeout=0.1)
        assert (await arrived)[1] == b"{}"


@pytest.mark.parametrize("site", ["as shipped", "careless outside"], indirect=True)
async def test_telemetry_goes_out_and_no_command_comes_in(site: Site) -> None:
    async with (
        site.client("outside", "reader", f"{ROOT}/#") as reader,
        site.client("venue", "controller", f"{ROOT}/call/+") as controller,
        site.client(
            "venue", "node-n1", f"{ROOT}/head/+/aspect", f"{ROOT}/beat", f"{ROOT}/monitor/trip"
        ) as head,
        site.client("outside", "venue-harbour-loop") as intruder,
    ):
        await until_bridged(site, reader)
        for topic in ("call/desk", "head/h1/aspect", "monitor/trip", "kart/1/limit", "beat"):
            await intruder.publish(f"{ROOT}/{topic}", b"from outside", qos=1)
        await first(reader, lambda topic: topic.endswith("/beat"))  # the other broker has passed them all on
        async with site.client("venue", "post-desk") as desk:
            await desk.publish(f"{ROOT}/call/desk", b"from the desk", qos=1)
        assert (await first(controller, bool))[1] == b"from the desk"
        await controller.publish(f"{ROOT}/head/h1/aspect", b"from the controller", qos=1)
        assert (await first(head, bool))[1] == b"from the controller"


async def test_names_of_persons_and_commands_stay_inside(site: Site) -> None:
    async with (
        site.client("outside", "reader", f"{ROOT}/#") as reader,
        site.client("venue", "controller") as controller,
    ):
        await until_bridged(site, reader)
        for topic in ("group", "answer/desk", "head/h1/aspect", "kart/1/limit", "kart/1/caps", "state"):
            await controller.publish(f"{ROOT}/{topic}", topic.encode(), qos=1, retain=topic == "group")
        seen = await first(reader, lambda topic: not topic.endswith("/shown"))
        assert seen == (f"{ROOT}/state", b"state")


def test_every_bridged_topic_is_one_of_the_contract_and_goes_out() -> None:
    lines = (FILES / "outwards.conf").read_text(encoding="utf-8").splitlines()
    topics = [line.split() for line in lines if line.startswith("topic ")]
    known = {channel.at(dict.fromkeys(channel.places, "+")) for channel in CHANNELS}
    assert {direction for _, _, direction, _ in topics} == {"out"}
    bridged = {topic.removeprefix(f"{ROOT}/") for _, topic, _, _ in topics}
    assert bridged <= known
    assert not bridged & {"group", "call/+", "head/+/aspect", "kart/+/limit", "kart/+/caps", "answer/+"}
