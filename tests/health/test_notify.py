"""What a process tells systemd, by sd_notify(3) and sd_watchdog_enabled(3)."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from signals.health.notify import LINE_MAX, Notifier
from tests.health.systemd import manager


def test_without_systemd_nothing_is_told_and_nothing_hinders() -> None:
    notifier = Notifier({"WATCHDOG_USEC": "1000000"})
    notifier.ready()
    assert notifier.watchdog_s is None


def test_each_word_is_a_datagram_on_a_path(tmp_path: Path) -> None:
    with manager(tmp_path) as systemd:
        notifier = Notifier({"NOTIFY_SOCKET": systemd.address})
        notifier.ready()
        notifier.status("closed, clear;\n16 of 16   heads heard")
        notifier.alive()
        notifier.stopping()
        assert systemd.hear() == [
            "READY=1",
            "STATUS=closed, clear; 16 of 16 heads heard",
            "WATCHDOG=1",
            "STOPPING=1",
        ]


def test_an_abstract_socket_is_found_by_its_at_sign() -> None:
    with manager(abstract=f"kerblight-test-{os.getpid()}") as systemd:
        Notifier({"NOTIFY_SOCKET": systemd.address}).ready()
        assert systemd.hear() == ["READY=1"]


def test_a_status_line_stays_one_short_line(tmp_path: Path) -> None:
    with manager(tmp_path) as systemd:
        Notifier({"NOTIFY_SOCKET": systemd.address}).status("x" * 5000 + "\nREADY=1")
        (line,) = systemd.hear()
        assert len(line) == len("STATUS=") + LINE_MAX


@pytest.mark.parametrize(
    ("interval", "pid", "due"),
    [
        ("3000000", None, 3.0),
        ("3000000", "own", 3.0),
        ("3000000", "1", None),
        ("0", None, None),
        ("soon", None, None),
        (None, None, None),
    ],
)
def test_the_watchdogs_interval_is_for_the_process_it_names(
    interval: str | None, pid: str | None, due: float | None
) -> None:
    pid = str(os.getpid()) if pid == "own" else pid
    told = {"NOTIFY_SOCKET": "/nowhere", "WATCHDOG_USEC": interval, "WATCHDOG_PID": pid}
    assert Notifier({name: text for name, text in told.items() if text is not None}).watchdog_s == due


def test_a_socket_that_is_gone_is_said_once(tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    notifier = Notifier({"NOTIFY_SOCKET": str(tmp_path / "gone")})
    notifier.ready()
    notifier.alive()
    assert [record.getMessage().split(":")[0] for record in caplog.records] == ["systemd cannot be told"]
