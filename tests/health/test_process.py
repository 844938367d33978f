"""Real processes before a played systemd: ready, status, watchdog, stopping; and what a hung one tells."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from tests.health.systemd import Manager, manager
from tests.ports import free_port

WATCHDOG_S = 1.5


@contextmanager
def service(systemd: Manager, *words: str) -> Iterator[subprocess.Popen[bytes]]:
    environ = {
        **os.environ,
        "NOTIFY_SOCKET": systemd.address,
        "WATCHDOG_USEC": str(round(WATCHDOG_S * 1e6)),
    }
    process = subprocess.Popen(
        [sys.executable, "-m", "signals.cli", *words],
        env=environ,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
    )
    try:
        yield process
    finally:
        process.kill()
        process.wait()
        assert process.stderr is not None
        process.stderr.close()


@pytest.mark.gate
@pytest.mark.skipif(shutil.which("mosquitto") is None, reason="mosquitto is not installed")
def test_a_service_tells_systemd_that_it_is_ready_lives_and_stops(tmp_path: Path) -> None:
    with (
        manager(tmp_path) as systemd,
        service(systemd, "broker", "--port", str(free_port()), "--data", str(tmp_path / "data")) as broker,
    ):
        assert systemd.until("READY=1")
        assert systemd.until("STATUS=mosquitto on 127.0.0.1:")
        assert systemd.until("WATCHDOG=1", times=3)
        broker.send_signal(signal.SIGTERM)
        assert broker.wait(10) == 0
        assert systemd.until("STOPPING=1")


@pytest.mark.gate
@pytest.mark.skipif(shutil.which("mosquitto") is None, reason="mosquitto is not installed")
def test_one_that_hangs_feeds_no_watchdog(tmp_path: Path) -> None:
    with (
        manager(tmp_path) as systemd,
        service(systemd, "broker", "--port", str(free_port()), "--data", str(tmp_path / "data")) as broker,
    ):
        assert systemd.until("READY=1")
        broker.send_signal(signal.SIGSTOP)
        os.waitid(os.P_PID, broker.pid, os.WSTOPPED | os.WNOWAIT)
        systemd.hear()
        fed, begun_s = systemd.heard.count("WATCHDOG=1"), time.monotonic()
        assert not systemd.until("WATCHDOG=1", WATCHDOG_S, times=fed + 1)
        assert time.monotonic() - begun_s >= WATCHDOG_S
        broker.send_signal(signal.SIGCONT)
        assert systemd.until("WATCHDOG=1", times=fed + 1)
