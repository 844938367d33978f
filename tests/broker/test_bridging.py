"""The shipped broker files, on two real mosquitto with certificates of authorities made for the test."""

from __future__ import annotations

import asyncio
import getpass
import shutil
import socket
import ssl
from collections.abc import AsyncIterator, Callable
from contextlib import AsyncExitStack, asynccontextmanager, suppress
from dataclasses import dataclass, field
from itertools import count
from pathlib import Path

import aiomqtt
import msgspec
import pytest
import trustme

from signals.mqtt.access import access_list, mosquitto_acl
from signals.mqtt.broker import _hashed
from signals.mqtt.channels import CHANNELS
from signals.venue import load

CONFIGS = Path(__file__).parents[2] / "configs"
FILES = CONFIGS / "broker"
PLACE = "/etc/mosquitto/kerblight"
ROOT = "kerblight/1/harbour-loop"
WITHIN_S = 15.0
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

    ports: dict[str, int]
    authorities: dict[str, trustme.CA]
    names: count[int] = field(default_factory=count)

    def tls(self, at: str, user: str | None, signed_by: str | None = None) -> ssl.SSLContext:
        context = ssl.create_default_context()
        self.authorities[at].configure_trust(context)
        if user is not None:
            self.authorities[signed_by or at].issue_cert(common_name=user).configure_cert(context)
        return context

    @asynccontextmanager
    async def client(self, at: str, user: str, *topics: str) -> AsyncIterator[aiomqtt.Client]:
        port, tls = self.ports[at], self.tls(at, user)
        name = f"{user}.{next(self.names)}"
        async with aiomqtt.Client("127.0.0.1", port, identifier=name, tls_context=tls) as mqtt:
            for topic in topics:
                await mqtt.subscribe(topic, qos=1)
            yield mqtt


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


def write_files(
    folder: Path, ports: dict[str, int], authorities: dict[str, trustme.CA], *, carelessly: bool
) -> dict[str, Path]:
    """Write the shipped files as an integrator does: other paths, other ports, nothing else.

    `carelessly`: those outside let the venue's bridge do anything; the venue must hold by itself.
    """
    for name, at in (("broker", "venue"), ("outside", "outside")):
        issued = authorities[at].issue_cert("127.0.0.1", common_name=name)
        issued.cert_chain_pems[0].write_to_path(folder / f"{name}.crt")
        issued.private_key_pem.write_to_path(folder / f"{name}.key")
    bridge = authorities["outside"].issue_cert(common_name="venue-harbour-loop")
    bridge.cert_chain_pems[0].write_to_path(folder / "outwards.crt")
    bridge.private_key_pem.write_to_path(folder / "outwards.key")
    for at, authority in authorities.items():
        authority.cert_pem.write_to_path(folder / f"{at}-ca.crt")
    (folder / "mosquitto.acl").write_text(mosquitto_acl(access_list(VENUE)), encoding="utf-8")
    (folder / "mosquitto.users").write_text(f"controller:{_hashed('secret')}\n", encoding="utf-8")
    outside_acl = (FILES / "outside.acl").read_text(encoding="utf-8")
    careless = "\nuser venue-harbour-loop\ntopic readwrite #\n"
    (folder / "outside.acl").write_text(outside_acl + (careless if carelessly else ""), encoding="utf-8")

    def text(name: str) -> str:
        return (FILES / name).read_text(encoding="utf-8").replace(PLACE, str(folder))

    venue = text("venue.conf").replace("listener 1883 127.0.0.1", f"listener {ports['here']} 127.0.0.1")
    venue = venue.replace("listener 8883", f"listener {ports['venue']} 127.0.0.1")
    outwards = text("outwards.conf").replace("telemetry.example:8883", f"127.0.0.1:{ports['outside']}")
    outside = text("outside.conf").replace("listener 8883", f"listener {ports['outside']} 127.0.0.1")
    made = {"venue": f"{venue}\n{outwards}", "outside": outside}
    for name, lines in made.items():
        (folder / f"{name}.conf").write_text(f"user {getpass.getuser()}\n{lines}", encoding="utf-8")
    return {name: folder / f"{name}.conf" for name in made}


@asynccontextmanager
async def broker(config: Path, port: int) -> AsyncIterator[None]:
    with config.with_suffix(".log").open("wb") as log:
        process = await asyncio.create_subprocess_exec("mosquitto", "-c", str(config), stderr=log, stdout=log)
    try:
        async with asyncio.timeout(WITHIN_S):
            while True:
                assert process.returncode is None, config.with_suffix(".log").read_text(encoding="utf-8")
                with suppress(OSError):
                    _, writer = await asyncio.open_connection("127.0.0.1", port)
                    writer.close()
                    break
                await asyncio.sleep(0.02)
        yield
    finally:
        process.terminate()
        await process.wait()


@pytest.fixture
async def site(tmp_path: Path, request: pytest.FixtureRequest) -> AsyncIterator[Site]:
    ports = {name: free_port() for name in ("here", "venue", "outside")}
    authorities = {name: trustme.CA(organization_name=name) for name in ("venue", "outside")}
    carelessly = getattr(request, "param", "as shipped") == "careless outside"
    configs = write_files(tmp_path, ports, authorities, carelessly=carelessly)
    async with AsyncExitStack() as stack:
        await stack.enter_async_context(broker(configs["outside"], ports["outside"]))
        await stack.enter_async_context(broker(configs["venue"], ports["venue"]))
        yield Site(ports, authorities)


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


async def test_a_certificate_is_the_user_and_the_access_list_goes_by_it(site: Site) -> None:
    async with (
        site.client("venue", "controller", f"{ROOT}/head/+/shown") as controller,
        site.client("venue", "node-n2") as node,
    ):
        await node.publish(f"{ROOT}/head/h1/shown", b"not its own", qos=1)
        await node.publish(f"{ROOT}/head/h2/shown", b"its own", qos=1)
        assert await first(controller, bool) == (f"{ROOT}/head/h2/shown", b"its own")


@pytest.mark.parametrize(("user", "signed_by"), [(None, None), ("node-n1", "outside")])
async def test_without_a_certificate_of_the_venue_nobody_gets_in(
    site: Site, user: str | None, signed_by: str | None
) -> None:
    tls = site.tls("venue", user, signed_by)
    with pytest.raises((aiomqtt.MqttError, ssl.SSLError)):
        async with aiomqtt.Client("127.0.0.1", site.ports["venue"], tls_context=tls, timeout=3):
            pass


async def test_what_runs_beside_the_broker_comes_in_by_password(site: Site) -> None:
    async with aiomqtt.Client(
        "127.0.0.1",
        site.ports["here"],
        identifier="controller",
        username="controller",
        password="secret",  # noqa: S106
    ):
        pass
    with pytest.raises(aiomqtt.MqttError):
        async with aiomqtt.Client("127.0.0.1", site.ports["here"], identifier="controller", timeout=3):
            pass


def test_every_bridged_topic_is_one_of_the_contract_and_goes_out() -> None:
    lines = (FILES / "outwards.conf").read_text(encoding="utf-8").splitlines()
    topics = [line.split() for line in lines if line.startswith("topic ")]
    known = {channel.at(dict.fromkeys(channel.places, "+")) for channel in CHANNELS}
    assert {direction for _, _, direction, _ in topics} == {"out"}
    bridged = {topic.removeprefix(f"{ROOT}/") for _, topic, _, _ in topics}
    assert bridged <= known
    assert not bridged & {"group", "call/+", "head/+/aspect", "kart/+/limit", "kart/+/caps", "answer/+"}
