from __future__ import annotations

import asyncio
import json
import os
import select
import shutil
import stat
import subprocess
import sys
import textwrap
from pathlib import Path

import pytest

from signals.errors import BadInput, Unusable
from signals.mqtt.access import access_list
from signals.mqtt.broker import Kind, Running, choose, embedded_broker, ensure_passwords, run_broker
from signals.mqtt.link import Credentials, Owner
from signals.mqtt.topics import Topics
from tests.mqtt.small import small_venue

SIM, REAL = small_venue(), small_venue(simulated=False)
WITHIN_S = 10.0

mosquitto = [
    pytest.mark.broker,
    pytest.mark.skipif(not shutil.which("mosquitto"), reason="mosquitto is not installed"),
]
both = pytest.mark.parametrize("kind", [pytest.param("mosquitto", marks=mosquitto), "iotcore"])
with_mosquitto = pytest.mark.usefixtures("_mosquitto")


@pytest.fixture
def _mosquitto() -> None:
    if not shutil.which("mosquitto"):
        pytest.skip("mosquitto is not installed")


def test_the_wheels_broker_refuses_real_equipment_and_says_what_to_do() -> None:
    with pytest.raises(Unusable, match=r"small has real equipment.*install mosquitto"):
        choose(REAL, "iotcore")


def test_without_mosquitto_a_simulated_venue_runs_on_the_wheel(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PATH", "")
    assert choose(SIM) == "iotcore"
    with pytest.raises(Unusable, match="no mosquitto on the PATH"):
        choose(REAL, "mosquitto")


def test_passwords_are_private_random_and_kept(tmp_path: Path) -> None:
    access = access_list(SIM)
    first = ensure_passwords(tmp_path, access)
    file = tmp_path / "credentials.json"
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    assert set(first) == set(access.users)
    assert len(set(first.values())) == len(first)
    assert min(map(len, first.values())) >= 24
    assert ensure_passwords(tmp_path, access) == first
    file.write_text(json.dumps({"controller": "mine", "stranger": "other"}))
    again = ensure_passwords(tmp_path, access)
    assert again["controller"] == "mine"
    assert "stranger" not in again
    assert json.loads(file.read_text())["stranger"] == "other"


@pytest.mark.parametrize("text", ["{", "[]", '{"controller": 1}'])
def test_a_spoilt_credentials_file_is_named_and_left_alone(tmp_path: Path, text: str) -> None:
    (tmp_path / "credentials.json").write_text(text)
    with pytest.raises(BadInput, match=r"credentials\.json.*delete the file"):
        ensure_passwords(tmp_path, access_list(SIM))
    assert (tmp_path / "credentials.json").read_text() == text


@pytest.mark.broker
@with_mosquitto
async def test_secrets_are_in_private_files_and_in_no_log(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level("DEBUG")
    async with embedded_broker(SIM, tmp_path, "mosquitto") as running:
        said = repr(running) + repr(running.credentials("controller"))
        assert await connects(running, running.credentials("controller"))
    assert hides(tmp_path, set(running.passwords.values()), said + caplog.text)


def hides(folder: Path, secrets: set[str], said: str) -> bool:
    files = [file for file in folder.iterdir() if file.name != "credentials.json"]
    assert {file.name for file in files if stat.S_IMODE(file.stat().st_mode) & 0o077} == {"broker.log"}
    told = said + "".join(file.read_text() for file in files)
    return not any(secret in told for secret in secrets)


async def connects(running: Running, credentials: Credentials | None) -> bool:
    """Whether a client gets in at its first attempt."""
    up: list[bool] = []
    link = running.link("controller", credentials=credentials, owner=Owner(on_up=lambda: up.append(True)))
    attempt = asyncio.create_task(link._attempt())
    while not (up or attempt.done()):
        await asyncio.wait((attempt,), timeout=0.01)
    attempt.cancel()
    await asyncio.gather(attempt, return_exceptions=True)
    return bool(up)


@pytest.mark.broker
@with_mosquitto
async def test_a_wrong_password_gets_nowhere(tmp_path: Path) -> None:
    async with embedded_broker(SIM, tmp_path, "mosquitto") as running:
        assert await connects(running, running.credentials("controller"))
        assert not await connects(running, Credentials("controller", "guessed"))
        assert not await connects(running, Credentials("stranger", "guessed"))


@pytest.mark.broker
@with_mosquitto
@pytest.mark.skipif(not shutil.which("mosquitto_sub"), reason="mosquitto's clients are not installed")
async def test_plain_clients_from_outside_see_the_published_topics(tmp_path: Path) -> None:
    topic = Topics.of(SIM.id, simulated=True).name("controller", "status")
    async with embedded_broker(SIM, tmp_path, "mosquitto") as running:
        kept = asyncio.Event()

        def speak() -> None:
            link.publish(topic, b'{"status":"ready"}', qos=1, retain=True)

        owner = Owner(on_up=speak, on_message=lambda _: kept.set())
        link = running.link("controller", subscriptions=((topic, 1),), owner=owner)
        speaking = asyncio.create_task(link.run())
        async with asyncio.timeout(WITHIN_S):
            await kept.wait()
            reader = await asyncio.create_subprocess_exec(
                *("mosquitto_sub", "-h", running.host, "-p", str(running.port), "-t", topic, "-C", "1"),
                stdout=subprocess.PIPE,
            )
            said, _ = await reader.communicate()
        speaking.cancel()
        await asyncio.gather(speaking, return_exceptions=True)
    assert said == b'{"status":"ready"}\n'


@both
async def test_it_ends_with_its_context_and_frees_its_port(tmp_path: Path, kind: Kind) -> None:
    async with embedded_broker(SIM, tmp_path, kind) as running:
        process = running.process
    assert process.returncode is not None
    async with embedded_broker(SIM, tmp_path, kind, port=running.port) as again:
        assert again.port == running.port


@both
async def test_a_port_that_is_taken_is_said(tmp_path: Path, kind: Kind) -> None:
    async with embedded_broker(SIM, tmp_path, kind) as running:
        with pytest.raises(Unusable, match=f"port {running.port}"):
            async with embedded_broker(SIM, tmp_path / "second", kind, port=running.port):
                pass


@both
async def test_a_broker_that_dies_is_said(tmp_path: Path, kind: Kind) -> None:
    with pytest.raises(Unusable, match="ended with exit code -9"):
        await asyncio.wait_for(
            run_broker(SIM, tmp_path, lambda running: running.process.kill(), kind), WITHIN_S
        )


HOLDER = """
import asyncio, pathlib, sys
from signals.mqtt.broker import run_broker
from tests.mqtt.small import small_venue
def ready(running):
    print(running.process.pid, flush=True)
asyncio.run(run_broker(small_venue(), pathlib.Path(sys.argv[1]), ready, sys.argv[2]))
"""


@both
@pytest.mark.skipif(not shutil.which("setpriv"), reason="setpriv is not installed")
def test_it_dies_with_the_process_that_runs_it(tmp_path: Path, kind: Kind) -> None:
    argv = (sys.executable, "-c", textwrap.dedent(HOLDER), str(tmp_path), kind)
    with subprocess.Popen(argv, stdout=subprocess.PIPE, cwd=Path(__file__).parents[2]) as holder:
        assert holder.stdout is not None
        broker = os.pidfd_open(int(holder.stdout.readline()))
        holder.kill()
    try:
        assert ends_within(broker, WITHIN_S)
    finally:
        os.close(broker)


def ends_within(pidfd: int, seconds: float) -> bool:
    """Wait for a process that is not our child: its pidfd becomes readable."""
    return bool(select.select([pidfd], [], [], seconds)[0])
