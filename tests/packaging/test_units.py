"""The shipped units, read by systemd's own tools, and held to what they promise."""

from __future__ import annotations

import configparser
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
SHIPPED = ROOT / "packaging/systemd"
SERVICES = sorted(path.stem for path in SHIPPED.glob("kerblight-*.service"))
NEEDS_SYSTEMD = pytest.mark.skipif(not shutil.which("systemd-analyze"), reason="systemd is not installed")
EXPOSED_MOST = {"kerblight-outputs": 2.0, "kerblight_backup": 3.5}
"""systemd's own measure, 0 (shut) to 10 (open); outputs may use serial lines, the rest nothing."""


@pytest.fixture(scope="module")
def units(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give the units as they would lie on a machine whose kerblight is this checkout's."""
    folder = tmp_path_factory.mktemp("units") / "system"
    shutil.copytree(SHIPPED, folder)
    for unit in folder.glob("*.service"):
        text = unit.read_text(encoding="utf-8")
        here = str(Path(sys.executable).parent)
        unit.write_text(text.replace("/opt/kerblight/current/bin", here), encoding="utf-8")
    return folder


def analyze(units: Path, *words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        ["systemd-analyze", *words],
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ, "SYSTEMD_UNIT_PATH": f"{units}:"},
    )


@NEEDS_SYSTEMD
@pytest.mark.skipif(not Path("/usr/sbin/mosquitto").exists(), reason="mosquitto is not installed")
def test_systemd_finds_nothing_wrong_in_them(units: Path) -> None:
    files = [
        str(path) for path in sorted(units.iterdir()) if path.suffix in (".service", ".target", ".timer")
    ]
    assert len(files) == len(SERVICES) + 3
    came = analyze(units, "verify", "--man=no", *files)
    assert (came.returncode, came.stderr) == (0, "")


@NEEDS_SYSTEMD
def test_systemd_would_say_of_a_mistake(units: Path, tmp_path: Path) -> None:
    bad = tmp_path / "kerblight-bad.service"
    text = (units / "kerblight-monitor.service").read_text(encoding="utf-8")
    bad.write_text(text.replace("WatchdogSec=", "WatchdogSecs="), encoding="utf-8")
    assert "WatchdogSecs" in analyze(units, "verify", "--man=no", str(bad)).stderr


@NEEDS_SYSTEMD
@pytest.mark.parametrize("service", [*SERVICES, "kerblight_backup"])
def test_each_may_do_little_by_systemds_own_measure(units: Path, service: str) -> None:
    came = analyze(units, "security", "--offline=yes", "--no-pager", str(units / f"{service}.service"))
    found = re.search(r"Overall exposure level for \S+: ([0-9.]+)", came.stdout)
    assert found, came.stderr
    exposed = float(found[1])
    assert exposed <= EXPOSED_MOST.get(service, 1.5), came.stdout
    print(f"{service}: {exposed}")


def merged(service: str) -> dict[str, str]:
    """Give a unit's settings as systemd merges them: the drop-ins of its prefix and its own, by name."""
    folders = (SHIPPED / "kerblight-.service.d", SHIPPED / f"{service}.service.d")
    drops = sorted((drop for folder in folders for drop in folder.glob("*.conf")), key=lambda drop: drop.name)
    found: dict[str, str] = {}
    for file in (SHIPPED / f"{service}.service", *drops):
        text = file.read_text(encoding="utf-8").replace("\\\n", " ")
        reader = configparser.ConfigParser(strict=False, interpolation=None, allow_no_value=True)
        reader.optionxform = str  # type: ignore[assignment,method-assign]
        reader.read_string(text)
        for section in reader.sections():
            found |= {key: value or "" for key, value in reader.items(section)}
    return found


@pytest.mark.parametrize("service", SERVICES)
def test_each_is_started_again_whatever_happens_and_runs_as_nobody_special(service: str) -> None:
    settings = merged(service)
    assert (settings["Restart"], settings["RestartSec"], settings["StartLimitIntervalSec"]) == (
        "always",
        "1",
        "0",
    )
    assert settings["Type"] == "notify"
    assert settings["User"].startswith("kerblight")
    assert settings["StandardInput"] == "null"  # a pipe that closes would end it
    users = (SHIPPED / "kerblight.sysusers").read_text(encoding="utf-8")
    assert re.search(rf"^u {settings['User']} ", users, re.MULTILINE)
    if service != "kerblight-broker":  # mosquitto feeds none
        assert 2 <= float(settings["WatchdogSec"]) <= 15


@pytest.mark.parametrize("service", sorted(set(SERVICES) - {"kerblight-broker"}))
def test_each_command_line_is_one_that_kerblight_takes(service: str) -> None:
    command = merged(service)["ExecStart"].split()
    verb, options = command[1], [word for word in command[2:] if word.startswith("--")]
    shown = subprocess.run(
        [sys.executable, "-m", "signals.cli", verb, "--help"],
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "COLUMNS": "200"},
    ).stdout
    assert service == f"kerblight-{verb}"
    assert [option for option in options if f" {option} " not in shown] == []
    known = dict(
        line.split("=", 1)
        for line in (SHIPPED / "kerblight.default").read_text(encoding="utf-8").splitlines()
        if "=" in line and not line.startswith("#")
    )
    assert {name for word in command for name in re.findall(r"\$\{(\w+)\}", word)} <= set(known)


def test_only_outputs_may_open_devices() -> None:
    devices = {service: merged(service)["PrivateDevices"] for service in SERVICES}
    assert {service for service, shut in devices.items() if shut == "no"} == {"kerblight-outputs"}
    assert merged("kerblight-outputs")["DevicePolicy"] == "closed"


def test_no_two_services_serve_their_figures_on_one_port() -> None:
    ports = [
        found[1]
        for service in SERVICES
        if (found := re.search(r"--metrics (\d+)", merged(service).get("ExecStart", "")))
    ]
    assert len(ports) == len(set(ports)) == len(SERVICES) - 1
