"""Who gets in at a real mosquitto with what `kerblight wiring keys` writes, and who does not."""

from __future__ import annotations

import asyncio
import shutil
import signal
import socket
import ssl
from collections.abc import AsyncIterator, Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

import aiomqtt
import pytest
import trustme

from signals.mqtt.broker import embedded_broker
from signals.mqtt.keys import Keys, Pair
from signals.mqtt.link import NODELAY, MqttLink
from signals.wiring.keys import authority
from tests.broker.site import WITHIN_S, Ear, joined, make_keys, mosquitto
from tests.mqtt.small import small_venue
from tests.ports import free_port

VENUE = small_venue(simulated=False)
ROOT = "kerblight/1/small"

pytestmark = [
    pytest.mark.broker,
    pytest.mark.skipif(shutil.which("mosquitto") is None, reason="mosquitto is not installed"),
]


@dataclass
class Site:
    folder: Path
    port: int
    broker: asyncio.subprocess.Process


@pytest.fixture
async def site(tmp_path: Path) -> AsyncIterator[Site]:
    port = free_port()
    make_keys(tmp_path, VENUE, port=port)
    async with mosquitto(tmp_path, port) as broker:
        yield Site(tmp_path, port, broker)


CONNECT = b"\x10\x10\x00\x04MQTT\x04\x02\x00\x3c\x00\x04test"
CONNECT_AS = b"\x10\x23\x00\x04MQTT\x04\xc2\x00\x3c\x00\x04test\x00\x0acontroller\x00\x05guess"
CONNACK = b"\x20\x02\x00\x00"


def came_of(port: int, context: ssl.SSLContext | None, says: bytes) -> bytes:
    """Say something to the broker and give its answer; b"" where it hangs up."""
    try:
        with socket.create_connection(("localhost", port), timeout=WITHIN_S) as plain:
            if context is None:
                plain.sendall(says)
                return plain.recv(4)
            with context.wrap_socket(plain, server_hostname="localhost") as carrier:
                carrier.sendall(says)
                return carrier.recv(4)
    except OSError:
        return b""


async def gets_in(site: Site, context: ssl.SSLContext | None, says: bytes = CONNECT) -> bool:
    """Whether a client gets in, and is heard: TLS 1.3 tells a client only later that it was refused."""
    return await asyncio.to_thread(came_of, site.port, context, says) == CONNACK


def own(site: Site, user: str, holder: str = "") -> ssl.SSLContext:
    return Keys(site.folder, holder or user).pair(user).context()


def signed_elsewhere(site: Site) -> ssl.SSLContext:
    context = ssl.create_default_context(cafile=str(site.folder / "broker/ca.crt"))
    trustme.CA().issue_cert(common_name="controller").configure_cert(context)
    return context


def expired(site: Site) -> ssl.SSLContext:
    """Give the controller's certificate of a year ago, signed by the venue's own authority."""
    keys = site.folder / "authority"
    ours = authority.read((keys / "authority.crt").read_bytes(), (keys / "authority.key").read_bytes(), None)
    old = authority.client(ours, "controller", "controller", datetime.now(UTC) - timedelta(days=365), 300)
    crt, key = site.folder / "old.crt", site.folder / "old.key"
    crt.write_bytes(old.pem())
    key.write_bytes(old.key_pem())
    return Pair(site.folder / "broker/ca.crt", crt, key).context()


def nobody(site: Site) -> ssl.SSLContext:
    return ssl.create_default_context(cafile=str(site.folder / "broker/ca.crt"))


def older_tls(site: Site) -> ssl.SSLContext:
    context = own(site, "controller")
    context.set_ciphers("DEFAULT@SECLEVEL=0")
    context.options &= ~(ssl.OP_NO_TLSv1 | ssl.OP_NO_TLSv1_1)
    context.minimum_version = ssl.TLSVersion.MINIMUM_SUPPORTED
    context.maximum_version = ssl.TLSVersion.TLSv1_1
    return context


def servers_own(site: Site) -> ssl.SSLContext:
    """Give the page's certificate for browsers: a server's, of the venue's own authority."""
    folder = site.folder / "panel"
    return Pair(folder / "ca.crt", folder / "panel.crt", folder / "panel.key").context()


@pytest.mark.parametrize("make", [signed_elsewhere, expired, nobody, servers_own])
async def test_without_a_valid_certificate_of_the_venue_nobody_gets_in(
    site: Site, make: Callable[[Site], ssl.SSLContext]
) -> None:
    assert not await gets_in(site, make(site))
    assert await gets_in(site, own(site, "controller"))


@pytest.mark.filterwarnings("ignore::DeprecationWarning")
async def test_no_version_before_tls_1_2_is_spoken(site: Site) -> None:
    assert not await gets_in(site, older_tls(site))
    assert await gets_in(site, own(site, "controller"))


async def test_without_tls_nobody_gets_in_whatever_name_and_password(site: Site) -> None:
    assert not await gets_in(site, None, CONNECT)
    assert not await gets_in(site, None, CONNECT_AS)
    assert await gets_in(site, own(site, "post-p1"), CONNECT_AS)


async def test_the_certificate_is_the_user_whatever_name_is_typed_in(site: Site) -> None:
    aspect = f"{ROOT}/head/h1/aspect"
    reader = Ear(site.folder, site.port, "reader", f"{ROOT}/#")
    controller = Ear(site.folder, site.port, "controller")
    async with joined(reader, controller):
        async with aiomqtt.Client(
            "localhost", site.port, tls_context=own(site, "node-n1"), identifier="controller.2",
            username="controller", password="guessed",  # noqa: S106
        ) as thief:  # fmt: skip
            await thief.publish(aspect, b"forged", qos=1)
            await thief.publish(f"{ROOT}/head/h1/shown", b"its own", qos=1)
        controller.say(aspect, b"true")
        await reader.until(lambda: len(reader.heard) == 2)
    assert sorted(reader.heard) == [(aspect, b"true"), (f"{ROOT}/head/h1/shown", b"its own")]


async def test_a_holder_that_was_revoked_is_out_and_its_new_keys_are_in(site: Site) -> None:
    lost = own(site, "post-p1")
    assert await gets_in(site, lost)
    make_keys(site.folder, VENUE, revoke=["post-p1"])
    found = own(site, "post-p1")
    site.broker.terminate()
    await site.broker.wait()
    async with mosquitto(site.folder, site.port):
        assert not await gets_in(site, lost)
        assert await gets_in(site, found)
        assert await gets_in(site, own(site, "post-p1", "panel"))


async def test_a_broker_told_to_read_its_files_again_takes_a_new_access_list(site: Site) -> None:
    reader = Ear(site.folder, site.port, "reader", f"{ROOT}/#")
    node = Ear(site.folder, site.port, "node-n1")
    async with joined(reader, node):
        node.say(f"{ROOT}/head/h1/shown", b"before")
        await reader.until(lambda: reader.heard)
        list_ = site.folder / "broker/mosquitto.acl"
        list_.write_text(list_.read_text().replace("head/h1/shown", "head/h7/shown"))
        site.broker.send_signal(signal.SIGHUP)
        for after in range(200):
            node.say(f"{ROOT}/head/h1/shown", b"after %d" % after)
            node.say(f"{ROOT}/node/n1/status", b"%d" % after)
            await reader.until(lambda after=after: (f"{ROOT}/node/n1/status", b"%d" % after) in reader.heard)  # type: ignore[misc]
            if (f"{ROOT}/head/h1/shown", b"after %d" % after) not in reader.heard:
                break
        else:
            pytest.fail("the old access list still holds")


async def until(holds: Callable[[], bool]) -> None:
    """Wait for what nothing tells of."""
    async with asyncio.timeout(WITHIN_S):
        while not holds():  # noqa: ASYNC110 - a log rings no bell
            await asyncio.sleep(0.02)


async def test_a_link_takes_up_renewed_keys_when_it_connects_again(site: Site) -> None:
    ear = Ear(site.folder, site.port, "monitor")
    async with joined(ear):
        make_keys(site.folder, VENUE, revoke=["monitor"])
        site.broker.terminate()
        await site.broker.wait()
        async with mosquitto(site.folder, site.port):
            await ear.until(lambda: ear.ups == 2)


async def test_keys_that_vanish_while_it_runs_are_said_and_waited_for(
    site: Site, caplog: pytest.LogCaptureFixture
) -> None:
    ear = Ear(site.folder, site.port, "monitor")
    key = site.folder / "monitor/monitor.key"
    async with joined(ear):
        kept = key.rename(key.with_suffix(".away"))
        site.broker.terminate()
        await site.broker.wait()
        async with mosquitto(site.folder, site.port):
            await until(lambda: "the keys cannot be used" in caplog.text)
            kept.rename(key)
            await ear.until(lambda: ear.ups == 2)


def strange(site: Site) -> ssl.SSLContext:
    """Answer with a certificate of somebody else's authority."""
    del site
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    trustme.CA().issue_cert("localhost").configure_cert(context)
    return context


def posts(site: Site) -> ssl.SSLContext:
    """Answer with a post's certificate: of the venue, but no server's."""
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(site.folder / "post-p1/post-p1.crt", site.folder / "post-p1/post-p1.key")
    return context


@pytest.mark.parametrize("answers", [strange, posts])
async def test_a_broker_that_is_not_the_venues_is_told_nothing_however_often(
    site: Site, answers: Callable[[Site], ssl.SSLContext]
) -> None:
    heard: list[bytes] = []

    async def listen(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        heard.append(await reader.read(100))
        writer.close()

    server = await asyncio.start_server(listen, "127.0.0.1", 0, ssl=answers(site))
    async with server:
        port = server.sockets[0].getsockname()[1]
        link = MqttLink("localhost", port, "controller", tls=Keys(site.folder, "").pair("controller").context)
        for _ in range(3):
            was_up, why = await link._attempt()
            assert not was_up
            assert "certificate verify failed" in why
    assert not any(heard)


async def test_small_messages_go_at_once_by_tls_too(site: Site) -> None:
    ear = Ear(site.folder, site.port, "monitor")
    async with joined(ear):
        assert ear.link._mqtt is not None
        carrier = ear.link._mqtt._client.socket()
        assert isinstance(carrier, ssl.SSLSocket)
        level, option, value = NODELAY[0]
        assert carrier.getsockopt(level, option) == value
        assert carrier.getsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY) == 1


async def test_the_embedded_broker_with_keys_asks_for_certificates_too(tmp_path: Path) -> None:
    make_keys(tmp_path / "keys", VENUE)
    async with embedded_broker(VENUE, tmp_path / "data", keys=tmp_path / "keys") as running:
        there = Site(tmp_path / "keys", running.port, running.process)
        assert await gets_in(there, own(there, "controller"))
        assert not await gets_in(there, nobody(there))
        assert not await gets_in(there, None)
        assert not (tmp_path / "data/credentials.json").exists()
