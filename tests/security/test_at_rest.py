"""Everything started as its defaults have it: who listens, and what is written where; read from outside.

What listens is read from the kernel's tables (proc(5)); nothing of `signals` is imported here.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import socket
import subprocess
import sys
import urllib.error
import urllib.parse
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.ports import free_port
from tests.system.outside import Run, kerblight, patient_venue

PASSWORD = "seven quiet kerbs"  # noqa: S105 - made up for this test
WRONG = "seven loud kerbs"
PASSPHRASE = "the authority's own"  # noqa: S105 - likewise
LOOPBACK = ("0100007F", "00000000000000000000000001000000", "0000000000000000FFFF00000100007F")
"""127.0.0.1, ::1 and ::ffff:127.0.0.1, as /proc/net/tcp and tcp6 write them on a little-endian machine."""

pytestmark = [
    pytest.mark.gate,
    pytest.mark.broker,
    pytest.mark.skipif(
        not all(map(shutil.which, ("mosquitto", "mosquitto_pub"))), reason="mosquitto is not installed"
    ),
]


@dataclass
class Venue:
    """A venue that runs with all it can have, and what is known of it from outside."""

    folder: Path
    run: Run
    page: subprocess.Popen[bytes]
    page_port: int
    figures: int

    @property
    def pids(self) -> list[int]:
        return [self.run.process.pid, self.page.pid, *self.run.children().values()]

    def said(self) -> str:
        """Give all that a page's process wrote."""
        return "".join((self.folder / name).read_text() for name in ("page.out", "page.err"))


@contextmanager
def page(folder: Path, venue: str, port: int) -> Iterator[subprocess.Popen[bytes]]:
    argv = [sys.executable, "-m", "signals.cli", "panel", "--venue", venue, "--port", str(port)]
    with (folder / "page.out").open("wb") as out, (folder / "page.err").open("wb") as err:
        process = subprocess.Popen(
            [*argv, "--data", str(folder / "data"), "--metrics", str(free_port())],
            stdin=subprocess.PIPE,
            stdout=out,
            stderr=err,
        )
        try:
            yield process
        finally:
            assert process.stdin is not None
            process.stdin.close()
            process.wait(20)


@pytest.fixture(scope="module")
def venue(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Venue]:
    folder = tmp_path_factory.mktemp("whole")
    file, figures, port = str(patient_venue(folder)), free_port(), free_port()
    run = Run(
        folder / "data", "--headless", "--broker", "mosquitto", "--venue", file, "--metrics", str(figures)
    )
    with run.started():
        set_ = subprocess.run(
            [
                *(sys.executable, "-m", "signals.cli", "panel", "passwords", "--post", "p1"),
                *("--venue", file, "--data", str(folder / "data")),
            ],
            input=f"{PASSWORD}\n",
            text=True,
            capture_output=True,
            check=False,
        )
        assert set_.returncode == 0, set_.stderr
        with page(folder, file, port) as process:
            there = Venue(folder, run, process, port, figures)
            wait_for(port)
            yield there


def wait_for(port: int) -> None:
    deadline = 200
    while deadline:
        try:
            socket.create_connection(("127.0.0.1", port), timeout=1).close()
        except OSError:
            deadline -= 1
            subprocess.run(["sleep", "0.1"], check=True)
        else:
            return
    pytest.fail("the page is not up")


def inodes(pid: int) -> set[str]:
    """Give the inodes of a process's sockets."""
    found = set()
    for fd in Path(f"/proc/{pid}/fd").iterdir():
        try:
            lead = str(fd.readlink())
        except OSError:
            continue
        if lead.startswith("socket:["):
            found.add(lead[8:-1])
    return found


def listening(pids: list[int]) -> list[tuple[str, str, int]]:
    """Give protocol, address and port of every socket of these processes that others may send to."""
    theirs = {inode for pid in pids for inode in inodes(pid)}
    found = []
    for table, state in (("tcp", "0A"), ("tcp6", "0A"), ("udp", "07"), ("udp6", "07")):
        for line in Path(f"/proc/net/{table}").read_text(encoding="ascii").splitlines()[1:]:
            fields = line.split()
            address, port = fields[1].split(":")
            if fields[3] == state and fields[9] in theirs:
                found.append((table, address, int(port, 16)))
    return found


def test_nothing_listens_beyond_this_machine(venue: Venue) -> None:
    found = listening(venue.pids)
    beyond = [each for each in found if each[1] not in LOOPBACK]
    assert beyond == []
    ports = {port for _, _, port in found}
    broker = int((venue.run.data / "broker").read_text().split()[0].rpartition(":")[2])
    assert {broker, venue.page_port, venue.figures} <= ports, "what is known to listen was not seen"
    print(f"{len(found)} sockets listen, all on this machine alone: {sorted(ports)}")


def test_one_that_did_would_be_seen() -> None:
    with socket.socket() as beyond:
        beyond.bind(("", 0))
        beyond.listen()
        assert ("tcp", "00000000", beyond.getsockname()[1]) in listening([os.getpid()])


def sign_in(venue: Venue, password: str) -> tuple[int, str]:
    """Sign in as a browser does; gives the status and the cookie."""
    form = urllib.parse.urlencode({"post": "p1", "person": "Tove", "password": password}).encode()
    url = f"http://127.0.0.1:{venue.page_port}/sign-in"
    request = urllib.request.Request(url, data=form, method="POST")

    class Stay(urllib.request.HTTPRedirectHandler):
        def redirect_request(self, *_: object, **__: object) -> None:
            return None

    try:
        answer = urllib.request.build_opener(Stay).open(request, timeout=20)
    except urllib.error.HTTPError as refused:
        answer = refused
    with answer:
        return answer.status, (answer.headers["set-cookie"] or "").split(";")[0].partition("=")[2]


def readable(venue: Venue) -> dict[str, str]:
    """Give everything that is told anywhere: logs, outputs, command lines, environments, status, figures."""
    told = {"run": "\n".join(venue.run.said), "page": venue.said()}
    for pid in venue.pids:
        for what in ("cmdline", "environ"):
            told[f"{pid} {what}"] = Path(f"/proc/{pid}/{what}").read_bytes().decode(errors="replace")
    for file in (
        *venue.run.data.glob("logs/*"),
        *venue.run.data.glob("status/*"),
        venue.run.data / "broker.log",
    ):
        told[file.name] = file.read_text(encoding="utf-8", errors="replace")
    for offset in (0, 1, 2, 4, 5):
        with urllib.request.urlopen(
            f"http://127.0.0.1:{venue.figures + offset}/metrics", timeout=20
        ) as answer:
            told[f"figures {offset}"] = answer.read().decode()
    for words in (("journal", "export"), ("doctor", "--json")):
        told[" ".join(words)] = kerblight(*words, "--data", str(venue.run.data)).stdout
    return told


def test_no_secret_is_told_anywhere(venue: Venue) -> None:
    status, cookie = sign_in(venue, PASSWORD)
    assert (status, len(cookie) > 20) == (303, True)
    assert sign_in(venue, WRONG)[0] == 403
    passwords = json.loads((venue.run.data / "credentials.json").read_text())
    hashes = json.loads((venue.run.data / "panel-passwords.json").read_text())
    venue.run.publish("post-p1", "call/p1", b'{"id":"s","call":"nonsense"}')
    secrets = {PASSWORD, WRONG, cookie, *passwords.values(), *hashes.values()}
    told = readable(venue)
    assert len(told) > 20
    found = [(where, secret[:4]) for where, text in told.items() for secret in secrets if secret in text]
    assert found == []
    assert "not-taken" in told["controller.log"], "what was refused must be told: it was looked at too early"


def test_what_is_secret_in_the_data_folder_is_its_owners_alone(venue: Venue) -> None:
    secret = (
        "credentials.json",
        "panel-passwords.json",
        "panel-sessions.json",
        "mosquitto.users",
        "mosquitto.acl",
    )
    modes = {
        name: (venue.run.data / name).stat().st_mode & 0o777
        for name in secret
        if (venue.run.data / name).exists()
    }
    assert set(modes.values()) == {0o600}, modes
    assert {"credentials.json", "mosquitto.users"} <= set(modes)


def test_keys_are_told_by_no_log_of_processes_that_use_them(tmp_path: Path) -> None:
    keys = tmp_path / "keys"
    made = subprocess.run(
        [sys.executable, "-m", "signals.cli", "wiring", "keys", str(keys), "--locked"],
        input=f"{PASSPHRASE}\n",
        capture_output=True,
        text=True,
        check=False,
    )
    assert made.returncode == 0, made.stderr
    lines = {
        line
        for file in keys.rglob("*.key")
        for line in re.findall(r"^[A-Za-z0-9+/=]{40,}$", file.read_text(), re.MULTILINE)
    }
    assert len(lines) > 40
    with Run(tmp_path / "data", "--headless", "--keys", str(keys)) as run:
        run.started()
        told = [made.stdout + made.stderr, *run.said]
        for pid in (run.process.pid, *run.children().values()):
            told += [
                Path(f"/proc/{pid}/{what}").read_bytes().decode(errors="replace")
                for what in ("cmdline", "environ")
            ]
        assert [
            each for each in listening([run.process.pid, *run.children().values()]) if each[1] not in LOOPBACK
        ] == []
    told += [file.read_text(errors="replace") for file in (tmp_path / "data").rglob("*.log")]
    assert not [line for line in (*lines, PASSPHRASE) if any(line in text for text in told)]
