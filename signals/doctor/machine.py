"""The machine: Python and packages, the broker's program, fonts, a display, ports and who listens."""

from __future__ import annotations

import os
import platform
import re
import shutil
import socket
import subprocess
import sys
from importlib.metadata import PackageNotFoundError, requires, version
from importlib.util import find_spec

from packaging.requirements import Requirement

from signals.cli.options import MQTT_PORT, MQTTS_PORT
from signals.doctor.seen import Look, Seen
from signals.doctor.sockets import Listening, listening

FONT = "font_source_sans_pro"
OPTIONAL = frozenset({"iotcore"})
"""Packages `run` goes without."""
MOSQUITTO_FROM = (2, 0)
PAGE_PORT = 8460
OURS = ("kerblight", "signals.cli", "mosquitto")


def look() -> list[Seen]:
    """Look at everything `run` needs or is better with."""
    seen = Look("machine")
    seen.at("Python", sys.version_info >= (3, 11), platform.python_version(), "install Python 3.11 or newer")
    _packages(seen)
    _mosquitto(seen)
    found = find_spec(FONT) is not None
    seen.at("font", found, "Source Sans" if found else "missing", "pip install font-source-sans-pro")
    shown = os.environ.get("WAYLAND_DISPLAY") or os.environ.get("DISPLAY")
    seen.at("display", shown is not None, shown or "none", "use `run --headless`", needed=False)
    _ports(seen)
    return seen.seen


def _packages(seen: Look) -> None:
    """Hold every package to what this version asks of it."""
    try:
        asked = [Requirement(line) for line in requires("kerblight") or []]
    except PackageNotFoundError:
        seen.at("packages", False, "kerblight is not installed", "pip install kerblight")
        return
    wanted = [each for each in asked if each.marker is None or each.marker.evaluate({"extra": ""})]
    wrong = [each for each in wanted if not _fits(each)]
    for each in wrong:
        needed = each.name not in OPTIONAL
        mend = f"pip install '{each.name}{each.specifier}'"
        seen.at(each.name, False, _have(each.name), mend, needed=needed)
    said = f"{len(wanted) - len(wrong)} of {len(wanted)} as kerblight {version('kerblight')} asks"
    seen.at("packages", not wrong, said, "see above", needed=False)


def _fits(asked: Requirement) -> bool:
    try:
        return asked.specifier.contains(version(asked.name), prereleases=True)
    except PackageNotFoundError:
        return False


def _have(name: str) -> str:
    try:
        return version(name)
    except PackageNotFoundError:
        return "missing"


def _mosquitto(seen: Look) -> None:
    found = shutil.which("mosquitto", path=f"{os.environ.get('PATH', '')}:/usr/sbin")
    mend = "sudo apt-get install -y mosquitto; without it only simulated venues run, on the wheel's broker"
    if found is None:
        seen.at("mosquitto", False, "missing", mend, needed=False)
        return
    said = subprocess.run([found, "-h"], capture_output=True, text=True, check=False, timeout=10).stdout  # noqa: S603
    number = re.search(r"version (\d+)\.(\d+)", said)
    new = number is not None and (int(number[1]), int(number[2])) >= MOSQUITTO_FROM
    what = number[0] if number else "of unknown version"
    seen.at("mosquitto", new, f"{found}, {what}", "install mosquitto 2.0 or newer", needed=False)


def _ports(seen: Look) -> None:
    """Tell which usual ports are taken, and who of ours listens for other machines."""
    everyone = listening()
    for port, what in ((MQTT_PORT, "broker"), (MQTTS_PORT, "broker by TLS"), (PAGE_PORT, "page")):
        taken = [each for each in everyone if each.port == port]
        said = f"{port} is taken by {_named(taken)}" if taken else f"{port} is free"
        seen.at(f"port for the {what}", _free(port) or bool(taken), said, needed=False)
    open_ = [each for each in everyone if not each.loopback and any(each.process.startswith(o) for o in OURS)]
    said = _named(open_) if open_ else "nothing of kerblight"
    mend = (
        "right only where nodes or browsers are on other machines, by TLS; else give no --host and --listen"
    )
    seen.at("listening for other machines", not open_, said, mend, needed=False)


def _named(those: list[Listening]) -> str:
    return ", ".join(f"{each.process or 'a process of another user'} on {each.at}" for each in those)


def _free(port: int) -> bool:
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind(("127.0.0.1", port))
        except OSError:
            return False
    return True
