"""`kerblight conform` and `kerblight wiring contract` on the command line."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import jsonschema  # type: ignore[import-untyped,unused-ignore]
import pytest

from signals.cli.app import run
from signals.cli.options import DEFAULT_VENUE
from signals.mqtt.access import access_list, mosquitto_acl
from signals.venue import load
from tests.ports import free_port

BIN = Path(sys.executable).parent
NODE = f"{BIN}/kerblight nodes --only n1 --broker mqtt://{{host}}:{{port}} --data {{data}}"


def code(*arguments: str) -> int:
    with pytest.raises(SystemExit) as ended:
        run(list(arguments))
    return int(ended.value.code or 0)


@pytest.mark.broker
def test_a_few_cases_of_a_real_node(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    junit = tmp_path / "out.xml"
    arguments = ["conform", "head", "--id", "h3", "--start-with", NODE, "--json", "-", "--junit", str(junit)]
    assert code(*arguments, "--only", "1", "--only", "3", "--only", "42") == 0
    shown = capsys.readouterr()
    result = json.loads(shown.out)
    assert (result["node"], result["organ"], result["firmware"]) == ("n1", "h3", "virtual")
    verdicts = {one["number"]: one["verdict"] for one in result["results"]}
    assert verdicts == {1: "PASS", 3: "PASS", 42: "NOT DECLARED"}
    assert "✓  1 birth and will: PASS" in shown.err
    assert junit.exists()


@pytest.mark.gate
@pytest.mark.broker
def test_it_works_on_a_broker_that_is_there_unless_a_controller_leads_the_venue(tmp_path: Path) -> None:
    """The kit must neither throw the venue's controller out nor lead the venue beside it."""
    arguments = ["conform", "head", "--id", "n1", "--start-with", NODE, "--data", str(tmp_path)]
    with serving(tmp_path) as url:
        assert code(*arguments, "--broker", url, "--only", "1") == 0
        with leading(tmp_path, url):
            assert code(*arguments, "--broker", url, "--only", "1") == 2


@contextmanager
def serving(data: Path) -> Iterator[str]:
    """The venue's broker as a process; gives its URL."""
    port = free_port()
    with said_ready("broker", "--data", str(data), "--port", str(port)):
        yield f"mqtt://127.0.0.1:{port}"


@contextmanager
def leading(data: Path, url: str) -> Iterator[None]:
    """The venue's controller as a process, beating."""
    with said_ready("controller", "--data", str(data), "--broker", url):
        yield


@contextmanager
def said_ready(*arguments: str) -> Iterator[None]:
    """A part as a process, once it is ready; it ends with its stdin."""
    process = subprocess.Popen(
        [sys.executable, "-m", "signals.cli", *arguments],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
    )
    with process:
        assert process.stdout
        assert process.stdout.readline().startswith(b"ready")
        yield
        process.terminate()


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("head", "--id", "k1"), "a node with a head"),
        (("kart", "--id", "n1"), "a node with a kart"),
        (("post", "--id", "n1"), "call box"),
        (("head", "--id", "n1", "--only", "99"), "numbered 1 to"),
        (("head", "--id", "n1", "--listen", "here"), "HOST:PORT"),
        (("head", "--id", "n1", "--start-with", "run {prot}"), "{prot}"),
        (("head", "--id", "n1", "--broker", "http://x"), "mqtt://HOST"),
        (("head", "--id", "n1", "--declares", "gone.toml"), "gone.toml"),
        (("head", "--id", "n1", "--start-with", "no-such-program"), "cannot be started"),
        (("head", "--id", "n1", "--start-with", "false"), "ended by itself with exit code 1"),
    ],
)
def test_what_cannot_be_run_is_said_with_exit_code_2(
    arguments: tuple[str, ...], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert code("conform", *arguments) == 2
    assert said in " ".join(capsys.readouterr().err.replace("│", " ").split())


def test_the_cases_are_listed(capsys: pytest.CaptureFixture[str]) -> None:
    assert code("conform", "cases") == 0
    listed = capsys.readouterr().out
    assert "30 beats lost with half a packet pending" in listed
    assert "C45" in listed


def test_the_contract_is_written_with_each_nodes_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert code("wiring", "contract", str(tmp_path), "--venue", str(DEFAULT_VENUE), "--json") == 0
    written = json.loads(capsys.readouterr().out)
    assert sorted(str(p.relative_to(tmp_path)) for p in tmp_path.rglob("*.*") if p.is_file()) == written
    document = json.loads((tmp_path / "asyncapi.json").read_text(encoding="utf-8"))
    assert document["asyncapi"] == "3.0.0"
    for schema in (tmp_path / "schemas").iterdir():
        jsonschema.Draft202012Validator.check_schema(json.loads(schema.read_text(encoding="utf-8")))
    venue = load(DEFAULT_VENUE)
    node = json.loads((tmp_path / "nodes" / "n5.json").read_text(encoding="utf-8"))
    assert {head: made["fail"] for head, made in node["heads"].items()} == {
        "fin1": "yellow-flash",
        "px1": "red",
    }
    assert (tmp_path / "mosquitto.acl").read_text(encoding="utf-8") == mosquitto_acl(access_list(venue))


def test_the_contract_alone_names_no_venue(tmp_path: Path) -> None:
    assert code("wiring", "contract", str(tmp_path)) == 0
    assert {path.name for path in tmp_path.iterdir()} == {"asyncapi.json", "schemas"}
