"""Runs SPIN and rumur on models, as anyone could by hand, and reads their reports."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import time
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Self

from signals.errors import Unusable

PACKAGES = {"spin": "spin", "rumur": "rumur", "gcc": "gcc"}
"""What is run, and the Debian package it comes from."""
FEW_STATES, MANY_STATES = 30_000, 500_000
"""Below, compiling takes longer than checking; above, it is well worth the while."""

_PAN = ("-DSAFETY", "-DNOREDUCE", "-DNOFAIR", "-DNOBOUNDCHECK", "-DNOCLAIM", "-DNOCOMP")
"""Every state and transition counts: no partial order reduction, and no bit state hashing."""
_INLINED = (
    "-O1",
    "-finline-small-functions",
    "--param=early-inlining-insns=2000",
    "--param=large-function-growth=10000",
)
"""rumur reads every variable by one general function; with code for each reading it is five times as fast."""


@dataclass(frozen=True, slots=True)
class Report:
    """What a checker found.

    Attributes:
        tool: its name.
        version: as it tells itself.
        states: how many it stored.
        transitions: how many moves it made.
        broken: the label of the property's clause that was broken first; empty where all held.
        trace: the moves to it, by name.
        compiling_s: seconds for making its program.
        checking_s: seconds of that program.
        peak_mb: the most memory it had, in megabytes.

    """

    tool: str
    version: str
    states: int
    transitions: int
    broken: str
    trace: tuple[str, ...]
    compiling_s: float
    checking_s: float
    peak_mb: float


def missing(tool: str) -> str:
    """Say why a checker can't run here; empty where it can."""
    lacking = [name for name in (tool, "gcc") if shutil.which(name) is None]
    if not lacking:
        return ""
    packages = " ".join(PACKAGES[name] for name in lacking)
    return f"{' and '.join(lacking)} not found, so {tool} is left out: apt-get install {packages}"


def spin(model: str, *, states: int, labels: tuple[str, ...]) -> Report:
    """Check a Promela model.

    Args:
        model: its text.
        states: about how many are expected; a search as deep as that must fit.
        labels: the clauses by their number in assertions, from 1.

    Raises:
        Unusable: SPIN or the compiler is missing, or does not take the model.

    """
    with _Work("spin") as work:
        work.write("model.pml", model)
        work.run("spin", "-a", "-o1", "-o2", "-o3", "model.pml")
        work.replace("pan.c", "%9.8g", "%.17g")  # its report rounds large counts to eight digits
        work.run("gcc", "-O0" if states < FEW_STATES else "-O1", "-w", *_PAN, "-o", "pan", "pan.c")
        compiled = work.seconds
        hashed = max(states.bit_length(), 16)
        told = work.run("./pan", f"-m{states + 1000}", f"-w{hashed}", "-n", "-b")
        checked = work.seconds - compiled
        broken = re.search(r"assertion violated \((\d+)==0\)", told)
        trace = _spin_trace(work.run("./pan", "-r", "-n", f"-m{states + 1000}")) if broken else ()
        return Report(
            "spin", _version("spin", "-V"), _number(told, r"(\S+) states, stored"),
            _number(told, r"(\S+) transitions") - 1, labels[int(broken[1]) - 1] if broken else "",
            trace, compiled, checked, work.peak_mb,
        )  # fmt: skip


def rumur(model: str, *, states: int = 1_000_000, symmetric: bool = False, threads: int = 1) -> Report:
    """Check a Murphi model.

    Args:
        model: its text.
        states: about how many are expected.
        symmetric: whether states that differ in nothing but the names of a scalarset count as one.
        threads: how many at once.

    Raises:
        Unusable: rumur or the compiler is missing, or does not take the model.

    """
    with _Work("rumur") as work:
        work.write("model.m", model)
        reduction = "exhaustive" if symmetric else "off"
        work.run("rumur", f"--threads={threads}", "--deadlock-detection=off", "--scalarset-schedules=off",
                 f"--symmetry-reduction={reduction}", "--output=model.c", "model.m")  # fmt: skip
        faster = _INLINED if states > MANY_STATES else ("-O1",) if states > FEW_STATES else ("-O0",)
        work.run("gcc", "-std=c11", "-w", *faster, "-DNDEBUG", "-U__SIZEOF_INT128__", "-march=native",
                 "-o", "model", "model.c", "-lpthread", "-lm")  # fmt: skip
        compiled = work.seconds
        told = work.run("./model", may_fail=True)
        checked = work.seconds - compiled
        broken = re.search(r"error trace for the error:\s+(\S+)", told)
        moves = re.findall(r'^Rule "(.+?)"(?:, .+)? fired', told, re.MULTILINE)
        trace = tuple(name for name in moves if broken and name != broken[1])
        return Report(
            "rumur", _version("rumur", "--version"), _number(told, r"(\d+) states, \d+ rules fired"),
            _number(told, r"\d+ states, (\d+) rules fired"), broken[1] if broken else "",
            trace, compiled, checked, work.peak_mb,
        )  # fmt: skip


class _Work:
    """A temporary directory in which programs run, timed."""

    def __init__(self, tool: str) -> None:
        self._tool = tool
        self.seconds = 0.0
        self.peak_mb = 0.0

    def __enter__(self) -> Self:
        """Raise Unusable where the tool is missing."""
        if reason := missing(self._tool):
            raise Unusable(reason)
        self._folder = TemporaryDirectory(prefix="kerblight-")
        return self

    def __exit__(self, *_: object) -> None:
        """Remove the directory."""
        self._folder.cleanup()

    def write(self, name: str, text: str) -> None:
        """Write a file."""
        Path(self._folder.name, name).write_text(text, encoding="utf-8")

    def replace(self, name: str, old: str, new: str) -> None:
        """Put other text into a file."""
        path = Path(self._folder.name, name)
        path.write_text(path.read_text(encoding="latin-1").replace(old, new), encoding="latin-1")

    def run(self, *command: str, may_fail: bool = False) -> str:
        """Run a program to its end and give what it says; raises Unusable with it where it fails."""
        before = time.perf_counter()
        with Path(self._folder.name, "told").open("w+", encoding="utf-8") as told:
            process = subprocess.Popen(command, cwd=self._folder.name, stdout=told, stderr=told)  # noqa: S603
            _, status, used = os.wait4(process.pid, 0)
            process.returncode = os.waitstatus_to_exitcode(status)
            told.seek(0)
            text = told.read()
        self.seconds += time.perf_counter() - before
        self.peak_mb = max(self.peak_mb, used.ru_maxrss / 1024)
        if process.returncode and not may_fail:
            raise Unusable(f"{' '.join(command[:2])} ended with {process.returncode}: {text.strip()[-500:]}")
        return text


def _version(*command: str) -> str:
    told = subprocess.run(command, capture_output=True, text=True, check=False)  # noqa: S603
    found = re.search(r"\d+(?:\.\d+)+(?:-\d+)?", told.stdout + told.stderr)
    return found[0] if found else "unknown"


def _number(told: str, pattern: str) -> int:
    """Find a count; SPIN writes large ones as floating point numbers."""
    found = re.search(pattern, told)
    if found is None:
        raise Unusable(f"a report without counts: {told.strip()[-500:]}")
    return int(float(found[1]))


def _spin_trace(told: str) -> tuple[str, ...]:
    moves = told.partition("\npan:")[0]
    return tuple(line.strip() for line in moves.splitlines())
