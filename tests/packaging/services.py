"""The shipped units' own command lines, run in a scratch place before a played systemd."""

from __future__ import annotations

import os
import shlex
import signal
import subprocess
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from tests.health.systemd import Manager, manager
from tests.packaging.test_units import merged

READY_S = 60.0


@dataclass
class Place:
    """A scratch machine: where its files lie, and which kerblight it has."""

    root: Path
    kerblight: Path
    environ: Mapping[str, str]
    moved: Mapping[str, str] = field(default_factory=dict)

    def command(self, service: str) -> list[str]:
        """Give a unit's command with this machine's paths."""
        line = merged(service)["ExecStart"]
        for name, value in self.environ.items():
            line = line.replace(f"${{{name}}}", value)
        for shipped, here in {**self.moved, **self.paths()}.items():
            line = line.replace(shipped, here)
        return shlex.split(line)

    def paths(self) -> dict[str, str]:
        return {
            "/opt/kerblight/current/bin/kerblight": str(self.kerblight),
            "/usr/sbin/mosquitto": "mosquitto",
            "/etc/kerblight": str(self.root / "etc"),
            "/var/lib": str(self.root / "var"),
        }


class Service:
    """One life of a service."""

    def __init__(self, process: subprocess.Popen[bytes], systemd: Manager, log: Path) -> None:
        self.process = process
        self.systemd = systemd
        self.log = log

    def ready(self) -> None:
        """Wait until it says that it is."""
        assert self.systemd.until("READY=1", READY_S), self.log.read_text(encoding="utf-8")[-2000:]

    def stop(self) -> int:
        """End it as systemd does; gives its exit code."""
        self.process.send_signal(signal.SIGTERM)
        return self.process.wait(15)


@contextmanager
def started(place: Place, service: str, *more: str) -> Iterator[Service]:
    """Start a service as systemd does: no stdin, a socket to be told by, a watchdog."""
    folder = place.root / "run" / f"{service}-{os.urandom(2).hex()}"
    folder.mkdir(parents=True)
    watchdog = round(float(merged(service).get("WatchdogSec", "0")) * 1e6)
    log = folder / "log"
    with manager(folder) as systemd, log.open("wb") as said, (folder / "said").open("wb") as told:
        environ = {**os.environ, "NOTIFY_SOCKET": systemd.address, "WATCHDOG_USEC": str(watchdog)}
        process = subprocess.Popen(
            [*place.command(service), *more],
            env=environ,
            stdin=subprocess.DEVNULL,
            stdout=told,
            stderr=said,
            cwd=folder,
        )
        try:
            yield Service(process, systemd, log)
        finally:
            process.kill()
            process.wait()
