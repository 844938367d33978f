"""Every shipped unit's command, on one scratch machine, by certificates: all ready, one hung, one killed."""

from __future__ import annotations

import getpass
import json
import os
import shutil
import signal
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path

import pytest

from signals.venue import load
from tests.broker.site import make_keys
from tests.packaging.services import READY_S, Place, Service, started
from tests.ports import free_port

ROOT = Path(__file__).parents[2]
PARTS = ("monitor", "controller", "nodes", "outputs", "panel")

pytestmark = [
    pytest.mark.gate,
    pytest.mark.broker,
    pytest.mark.skipif(shutil.which("mosquitto") is None, reason="mosquitto is not installed"),
]


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Place:
    """A scratch machine with a wired venue, its keys, and nothing of this test's."""
    root = tmp_path_factory.mktemp("machine")
    etc = root / "etc"
    etc.mkdir()
    for name in ("harbour-wired.toml", "harbour-wired.csv"):
        text = (ROOT / "configs" / name).read_text(encoding="utf-8")
        leases = "".join(f"lease_{who} = 3000\n" for who in ("head", "kart", "controller"))
        (etc / name).write_text(text.replace("[timing_ms]\n", f"[timing_ms]\n{leases}"), encoding="utf-8")
    port = free_port()
    make_keys(etc / "keys", load(etc / "harbour-wired.toml"), port=port, place=str(etc / "broker"))
    (etc / "keys/broker").rename(etc / "broker")
    conf = etc / "broker/mosquitto.conf"
    conf.write_text(f"user {getpass.getuser()}\n{conf.read_text(encoding='utf-8')}", encoding="utf-8")
    for folder in ("kerblight", "kerblight-monitor", "kerblight-nodes", "kerblight-outputs"):
        (root / "var" / folder).mkdir(parents=True)
    figures = {f"--metrics {number}": f"--metrics {free_port()}" for number in range(9460, 9467)}
    environ = {
        "VENUE": str(etc / "harbour-wired.toml"),
        "BROKER": f"mqtts://localhost:{port}",
        "PAGE_HOST": "127.0.0.1",
        "PAGE_PORT": str(free_port()),
    }
    return Place(root, Path(sys.executable).with_name("kerblight"), environ, figures)


@pytest.fixture(scope="module")
def services(place: Place) -> Iterator[dict[str, Service]]:
    with ExitStack() as stack:
        broker = stack.enter_context(started(place, "kerblight-broker"))
        parts = {part: stack.enter_context(started(place, f"kerblight-{part}")) for part in PARTS}
        for service in parts.values():
            service.ready()
        yield {"broker": broker, **parts}


def test_all_come_up_and_say_how_they_are(services: dict[str, Service]) -> None:
    for part in PARTS:
        assert services[part].systemd.until("STATUS="), part
        assert services[part].systemd.until("WATCHDOG=1"), part
    assert services["controller"].systemd.until("STATUS=closed")


def test_every_log_line_is_one_object(services: dict[str, Service]) -> None:
    for part in PARTS:
        told = [json.loads(line) for line in until_it_says_how_it_is(services[part].log)]
        assert {line["part"] for line in told} == {part}
        assert {line["message"] for line in told} & {"well", "not-well"}


def until_it_says_how_it_is(log: Path) -> list[str]:
    deadline = time.monotonic() + READY_S
    while time.monotonic() < deadline and '"fields": {"says": ' not in log.read_text(encoding="utf-8"):
        time.sleep(0.05)
    return log.read_text(encoding="utf-8").splitlines()


def test_each_serves_its_figures_on_this_machine_alone(place: Place, services: dict[str, Service]) -> None:
    for part in PARTS:
        command = place.command(f"kerblight-{part}")
        port = command[command.index("--metrics") + 1]
        with urllib.request.urlopen(f"http://127.0.0.1:{port}/metrics", timeout=10) as answer:
            text = answer.read().decode()
        assert f'kerblight_about{{part="{part}",venue="harbour-loop"' in text
        assert "kerblight_links_up" in text
    assert services


def call(place: Place, word: str, *words: str) -> subprocess.CompletedProcess[str]:
    post = place.root / "etc/keys/panel"
    return subprocess.run(
        [
            *(str(place.kerblight), "call", word, "--post", "p1", *words),
            *("--venue", place.environ["VENUE"], "--broker", place.environ["BROKER"], "--keys", str(post)),
        ],
        capture_output=True,
        text=True,
        check=False,
        cwd=place.root,
    )


def test_a_hung_controller_feeds_no_watchdog_and_its_successor_has_every_hold(
    place: Place, services: dict[str, Service]
) -> None:
    """systemd kills what its watchdog misses and starts it again: played, with the unit's own interval."""
    came = call(place, "caution", "--where", "s2")
    assert came.returncode == 0, came.stderr
    hung = services["controller"]
    hung.process.send_signal(signal.SIGSTOP)
    os.waitid(os.P_PID, hung.process.pid, os.WSTOPPED | os.WNOWAIT)
    hung.systemd.hear()
    assert not hung.systemd.until("WATCHDOG=1", 5.0, times=hung.systemd.heard.count("WATCHDOG=1") + 1)
    hung.process.kill()
    hung.process.wait()
    with started(place, "kerblight-controller") as again:
        again.ready()
        listed = subprocess.run(
            [str(place.kerblight), "journal", "list", "--data", str(place.root / "var/kerblight"), "--json"],
            capture_output=True,
            text=True,
            check=True,
        )
        entries = json.loads(listed.stdout)
        assert [entry["kind"] for entry in entries].count("boot") == 2
        state = next(entry["body"]["state"] for entry in reversed(entries) if entry["kind"] == "change")
        assert "caution:s2:p1" in json.dumps(state)
        assert again.stop() == 0
        assert again.systemd.until("STOPPING=1")
    assert call(place, "stop").returncode == 2  # nobody answers: the caller is told so
