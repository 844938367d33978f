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
from signals.mqtt.broker import embedded_broker
from signals.venue import load
from signals.wiring.contract import contract_files
from tests.conform.nodes import GOOD, PLANTED, Subject, declared

pytestmark = [pytest.mark.gate, pytest.mark.broker]

AT_ONCE = 7
AGAIN = 2
WITHIN_S = 100.0


@dataclass(frozen=True, slots=True)
class Ran:
    """What a run came to: exit code, result, reports, and what it said where it could not go on.

    `verdicts` are the result's, but for cases that were tried again, alone, because the machine was late.
    """

    code: int
    result: dict[str, Any]
    junit: str
    page: str
    said: str
    verdicts: dict[int, str]


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
    for subject, one in zip(subjects, ran, strict=True):
        for _ in range(AGAIN):
            if isinstance(one, Ran) and (late := [n for n, v in one.verdicts.items() if v == "INCONCLUSIVE"]):
                one.verdicts.update((await _once(subject, folder, *late)).verdicts)
    return {subject.name: one for subject, one in zip(subjects, ran, strict=True)}


async def _ran(subject: Subject, folder: Path, room: asyncio.Semaphore) -> Ran | str:
    try:
        declaration = declared(subject, folder)
    except pytest.skip.Exception as missing:
        return str(missing)
    (folder / f"{subject.name}.declared.json").write_bytes(msgspec.json.encode(declaration))
    async with room:
        return await _once(subject, folder)


async def _once(subject: Subject, folder: Path, *only: int, more: tuple[str, ...] = ()) -> Ran:
    files = {
        part: folder / f"{subject.name}{'-'.join(map(str, only))}.{part}" for part in ("json", "xml", "md")
    }
    arguments = [subject.kind, "--id", subject.id, "--venue", str(folder / "venue.toml")]
    arguments += ["--declares", str(folder / f"{subject.name}.declared.json"), "--json", str(files["json"])]
    arguments += ["--junit", str(files["xml"]), "--report", str(files["md"])]
    arguments += [*(f"--only={number}" for number in only), *more]
    process = await asyncio.create_subprocess_exec(
        *(sys.executable, "-m", "signals.cli", "conform", *arguments),
        stdout=asyncio.subprocess.PIPE,
        stderr=asyncio.subprocess.STDOUT,
    )
    said, _ = await asyncio.wait_for(process.communicate(), WITHIN_S)
    texts = {part: path.read_text(encoding="utf-8") if path.exists() else "" for part, path in files.items()}
    result = json.loads(texts["json"] or '{"results": []}')
    verdicts = {one["number"]: one["verdict"] for one in result["results"]}
    return Ran(process.returncode or 0, result, texts["xml"], texts["md"], said.decode(), verdicts)


def _of(runs: dict[str, Ran | str], subject: Subject) -> Ran:
    ran = runs[subject.name]
    if isinstance(ran, str):
        pytest.skip(ran)
    assert ran.verdicts, ran.said
    return ran


def _with(ran: Ran, verdict: str) -> dict[int, str]:
    """Give the cases with a verdict, each with what was said."""
    said = {one["number"]: one["said"] for one in ran.result["results"]}
    return {number: said[number] for number, came in ran.verdicts.items() if came == verdict}


@pytest.mark.parametrize("subject", GOOD, ids=lambda subject: subject.name)
def test_a_good_node_passes(runs: dict[str, Ran | str], subject: Subject) -> None:
    ran = _of(runs, subject)
    assert _with(ran, "FAIL") == {}
    assert _with(ran, "INCONCLUSIVE") == {}
    assert len(_with(ran, "PASS")) >= 25


@pytest.mark.parametrize("subject", PLANTED, ids=lambda subject: subject.name)
def test_a_bad_node_fails_in_exactly_the_planted_cases(runs: dict[str, Ran | str], subject: Subject) -> None:
    ran = _of(runs, subject)
    assert set(_with(ran, "FAIL")) == subject.fails, _with(ran, "FAIL")
    assert _with(ran, "INCONCLUSIVE") == {}


@pytest.mark.parametrize("subject", [GOOD[0], PLANTED[0]], ids=lambda subject: subject.name)
async def test_a_broker_that_is_not_the_kits_is_hidden_and_comes_to_the_same(
    folder: Path, subject: Subject
) -> None:
    (folder / f"{subject.name}.declared.json").write_bytes(msgspec.json.encode(declared(subject, folder)))
    async with embedded_broker(load(folder / "venue.toml"), folder / "broker") as broker:
        there = ("--broker", f"mqtt://127.0.0.1:{broker.port}", "--data", str(folder / "broker"))
        ran = await _once(subject, folder, 33, 34, more=there)
    due = "FAIL" if subject.fails else "PASS"
    assert ran.verdicts == {33: due, 34: due}, ran.said
    if not subject.fails:
        assert "not the kit's" in _with(ran, "PASS")[33]


async def test_a_node_that_ends_fails_where_it_did_and_is_started_again(folder: Path) -> None:
    subject = Subject("dies_of_nonsense", "head", "n1")
    (folder / f"{subject.name}.declared.json").write_bytes(msgspec.json.encode(declared(subject, folder)))
    ran = await _once(subject, folder, 15, 16, 17)
    assert ran.verdicts == {15: "PASS", 16: "FAIL", 17: "PASS"}
    assert "ended by itself with exit code 3: it is nonsense" in _with(ran, "FAIL")[16]


@pytest.mark.parametrize("subject", [*GOOD, *PLANTED], ids=lambda subject: subject.name)
def test_each_run_is_reported_alike_four_times(runs: dict[str, Ran | str], subject: Subject) -> None:
    ran = _of(runs, subject)
    verdicts = [one["verdict"] for one in ran.result["results"]]
    suite = ET.fromstring(ran.junit)[0]  # noqa: S314 - our own
    assert int(suite.attrib["tests"]) == len(suite) == len(verdicts)
    assert len(suite.findall("testcase/failure")) == verdicts.count("FAIL")
    assert len(suite.findall("testcase/error")) == verdicts.count("INCONCLUSIVE")
    assert all(f"\n| {one['number']} | {one['title']} |" in ran.page for one in ran.result["results"])
    assert ran.code == int(bool({"FAIL", "INCONCLUSIVE"} & set(verdicts)))
