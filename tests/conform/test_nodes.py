"""Whole runs of the kit over a real broker: good nodes pass, bad ones fail in exactly the planted cases.

All run at once, a few at a time, each a process of its own: they mostly wait for leases.
"""

from __future__ import annotations

import asyncio
import json
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as ET

import msgspec
import pytest

from signals.cli.options import configs
from signals.venue import load
from signals.wiring.contract import contract_files
from tests.conform.nodes import GOOD, PLANTED, Subject, declared

pytestmark = [pytest.mark.gate, pytest.mark.broker]

AT_ONCE = 4
WITHIN_S = 100.0


@dataclass(frozen=True, slots=True)
class Ran:
    """What a run came to: exit code, result, reports, and what it said where it could not go on."""

    code: int
    result: dict[str, Any]
    junit: str
    page: str
    said: str


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demonstration venue with karts on a head's lease, and its nodes' files."""
    made = tmp_path_factory.mktemp("conform")
    text = (configs() / "harbour-loop.toml").read_text(encoding="utf-8")
    kart = 'id = "k1"\nkind = "kart"\nsimulated = true\n'
    assert kart in text
    (made / "venue.toml").write_text(text.replace(kart, f"{kart}lease_ms = 500\n"), encoding="utf-8")
    for name, content in contract_files(load(made / "venue.toml")).items():
        (made / name).parent.mkdir(exist_ok=True)
        (made / name).write_text(content, encoding="utf-8")
    return made


@pytest.fixture(scope="module")
def runs(folder: Path) -> dict[str, Ran | str]:
    """Every run, by the node's name; a reason in place of one that cannot run here."""
    return asyncio.run(_all(folder))


async def _all(folder: Path) -> dict[str, Ran | str]:
    room = asyncio.Semaphore(AT_ONCE)
    subjects = sorted((*GOOD, *PLANTED), key=lambda subject: subject.kind != "kart")  # the longest first
    ran = await asyncio.gather(*(_ran(subject, folder, room) for subject in subjects))
    return {subject.name: one for subject, one in zip(subjects, ran, strict=True)}


async def _ran(subject: Subject, folder: Path, room: asyncio.Semaphore) -> Ran | str:
    try:
        declaration = declared(subject, folder)
    except pytest.skip.Exception as missing:
        return str(missing)
    files = {part: folder / f"{subject.name}.{part}" for part in ("declared.json", "json", "xml", "md")}
    files["declared.json"].write_bytes(msgspec.json.encode(declaration))
    arguments = [subject.kind, "--id", subject.id, "--venue", str(folder / "venue.toml")]
    arguments += ["--declares", str(files["declared.json"]), "--json", str(files["json"])]
    arguments += ["--junit", str(files["xml"]), "--report", str(files["md"])]
    async with room:
        process = await asyncio.create_subprocess_exec(
            *(sys.executable, "-m", "signals.cli", "conform", *arguments),
            stdout=asyncio.subprocess.PIPE,
            stderr=asyncio.subprocess.STDOUT,
        )
        said, _ = await asyncio.wait_for(process.communicate(), WITHIN_S)
    texts = [
        files[part].read_text(encoding="utf-8") if files[part].exists() else "" for part in ("xml", "md")
    ]
    result = json.loads(files["json"].read_text(encoding="utf-8")) if files["json"].exists() else {}
    return Ran(process.returncode or 0, result, *texts, said.decode())


def _of(runs: dict[str, Ran | str], subject: Subject) -> Ran:
    ran = runs[subject.name]
    if isinstance(ran, str):
        pytest.skip(ran)
    assert ran.result, ran.said
    return ran


def _numbers(ran: Ran, *verdicts: str) -> dict[int, str]:
    return {one["number"]: one["said"] for one in ran.result["results"] if one["verdict"] in verdicts}


@pytest.mark.parametrize("subject", GOOD, ids=lambda subject: subject.name)
def test_a_good_node_passes(runs: dict[str, Ran | str], subject: Subject) -> None:
    ran = _of(runs, subject)
    assert _numbers(ran, "FAIL", "INCONCLUSIVE") == {}
    assert ran.code == 0
    assert len(_numbers(ran, "PASS")) >= 25


@pytest.mark.parametrize("subject", PLANTED, ids=lambda subject: subject.name)
def test_a_bad_node_fails_in_exactly_the_planted_cases(runs: dict[str, Ran | str], subject: Subject) -> None:
    ran = _of(runs, subject)
    assert set(_numbers(ran, "FAIL")) == subject.fails, _numbers(ran, "FAIL")
    assert _numbers(ran, "INCONCLUSIVE") == {}
    assert ran.code == 1


@pytest.mark.parametrize("subject", [*GOOD, *PLANTED], ids=lambda subject: subject.name)
def test_each_run_is_reported_alike_three_times(runs: dict[str, Ran | str], subject: Subject) -> None:
    ran = _of(runs, subject)
    suite = ET.fromstring(ran.junit)[0]  # noqa: S314 - our own
    assert int(suite.attrib["tests"]) == len(suite) == len(ran.result["results"])
    assert len(suite.findall("testcase/failure")) == len(subject.fails)
    for number in subject.fails:
        assert f"| {number} |" in ran.page
    assert ran.page.count("✗ FAIL |") >= len(subject.fails)
