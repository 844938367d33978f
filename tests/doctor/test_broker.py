"""The doctor at real brokers: one as it should be, and one for each thing that can be wrong with it."""

from __future__ import annotations

import asyncio
import getpass
import shutil
from collections.abc import AsyncIterator, Sequence
from contextlib import asynccontextmanager
from pathlib import Path

import pytest

from signals.cli.options import Address
from signals.doctor import broker as brokers
from signals.doctor.seen import Seen
from signals.mqtt.broker import embedded_broker
from signals.mqtt.mosquitto import Listener, with_certificates, written
from tests.broker.site import make_keys, running
from tests.mqtt.small import small_venue
from tests.ports import free_port

SIM, REAL = small_venue(), small_venue(simulated=False)

pytestmark = [
    pytest.mark.broker,
    pytest.mark.skipif(shutil.which("mosquitto") is None, reason="mosquitto is not installed"),
]


@asynccontextmanager
async def certified(
    folder: Path, *, without: Sequence[str] = (), plus: Sequence[str] = ()
) -> AsyncIterator[Address]:
    """Run a broker by certificates, without some of the lines it should have."""
    make_keys(folder / "keys", REAL)
    port = free_port()
    lines = with_certificates(Listener(folder / "keys/broker", port=port))
    kept = [line for line in lines if not line.startswith(tuple(without))]
    assert len(kept) == len(lines) - len(without)
    conf = folder / "broker.conf"
    conf.write_text(written((f"user {getpass.getuser()}", *kept, *plus)), encoding="utf-8")
    async with running(conf, port):
        yield Address("localhost", port, secure=True)


async def looked(folder: Path, where: Address, venue: object = REAL, keys: str = "keys") -> dict[str, Seen]:
    seen = await asyncio.to_thread(brokers.look, venue, where, folder / keys, folder)  # type: ignore[arg-type]
    return {one.what: one for one in seen}


async def test_a_broker_as_it_should_be(tmp_path: Path) -> None:
    async with certified(tmp_path) as where:
        seen = await looked(tmp_path, where)
        alone = await looked(tmp_path, where, keys="keys/node-n1")
    assert {what: one.ok for what, one in seen.items()} == dict.fromkeys(
        ("reached", "TCP_NODELAY", "access list", "strangers"), True
    )
    assert seen["reached"].said == f"{where.url} as reader, TLSv1.3"
    assert alone["reached"].said == f"{where.url} as node-n1, TLSv1.3"


@pytest.mark.parametrize(
    ("without", "plus", "what", "mend"),
    [
        (["set_tcp_nodelay"], ["set_tcp_nodelay false"], "TCP_NODELAY", "set_tcp_nodelay true"),
        (["acl_file"], [], "access list", "acl_file"),
        (
            ["require_certificate", "use_identity_as_username", "allow_anonymous", "acl_file"],
            ["allow_anonymous true"],
            "strangers",
            "require_certificate true",
        ),
    ],
)
async def test_each_line_that_is_missing_is_seen_from_outside(
    tmp_path: Path, without: list[str], plus: list[str], what: str, mend: str
) -> None:
    async with certified(tmp_path, without=without, plus=plus) as where:
        seen = await looked(tmp_path, where)
    assert seen["reached"].ok
    assert seen[what].short
    assert mend in seen[what].mend


async def test_a_broker_that_is_not_there_or_not_ours_is_told(tmp_path: Path) -> None:
    async with certified(tmp_path) as where:
        make_keys(tmp_path / "others", REAL)
        stranger = await looked(tmp_path, where, keys="others")
    assert not stranger["reached"].ok
    assert "certificate verify failed" in stranger["reached"].said
    gone = await looked(tmp_path, where)
    assert list(gone) == ["reached"]
    assert gone["reached"].short


async def test_the_embedded_broker_of_a_simulated_venue(tmp_path: Path) -> None:
    async with embedded_broker(SIM, tmp_path, "mosquitto") as broker:
        where = Address(broker.host, broker.port)
        seen = await asyncio.to_thread(brokers.look, SIM, where, None, tmp_path)
    told = {one.what: one for one in seen}
    assert told["reached"].said == f"{where.url} as reader"
    assert all(told[what].ok for what in ("reached", "TCP_NODELAY", "access list"))
    assert not told["strangers"].ok
    assert not told["strangers"].needed


async def test_the_wheels_broker_has_no_access_list_and_is_told(tmp_path: Path) -> None:
    async with embedded_broker(SIM, tmp_path, "iotcore") as broker:
        seen = await asyncio.to_thread(brokers.look, SIM, Address(broker.host, broker.port), None, tmp_path)
    told = {one.what: one for one in seen}
    assert told["reached"].ok
    assert not told["access list"].ok
