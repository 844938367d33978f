"""The server: TLS, another machine's address, ports that are taken, the command line around it."""

from __future__ import annotations

import json
import socket
import ssl
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest
import trustme

from signals.errors import Unusable
from signals.mqtt.memory import MemoryBroker
from signals.panel.service import Listening, Panel
from signals.panel.site import Setting
from tests.panel.court import Court, Visitor, patient


def kerblight(*words: str, cwd: Path, given: str = "") -> subprocess.CompletedProcess[str]:
    argv = [sys.executable, "-m", "signals.cli", *words]
    return subprocess.run(argv, capture_output=True, text=True, check=False, cwd=cwd, input=given, timeout=60)


@pytest.fixture(scope="module")
def authority() -> trustme.CA:
    return trustme.CA()


@pytest.fixture(scope="module")
def tls(authority: trustme.CA, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Court]:
    folder = tmp_path_factory.mktemp("tls")
    issued = authority.issue_cert("127.0.0.1", "localhost")
    certificate, key = folder / "panel.pem", folder / "panel.key"
    issued.private_key_pem.write_to_path(str(key))
    for blob in issued.cert_chain_pems:
        blob.write_to_path(str(certificate), append=True)
    with Court(folder, certificate=certificate, key=key) as court:
        yield court


def test_under_tls_the_cookie_is_for_tls_only_and_bound_to_this_host(
    tls: Court, authority: trustme.CA
) -> None:
    trusting = ssl.create_default_context()
    authority.configure_trust(trusting)
    assert tls.url.startswith("https://")
    with httpx.Client(base_url=tls.url, verify=trusting) as http:
        answer = http.post("/sign-in", data={"post": "p1", "person": "Tove"})
        said = answer.headers["set-cookie"]
        assert said.startswith("__Host-kerblight-harbour-loop=")
        assert "Secure" in said
        assert "Path=/" in said
        assert "Domain" not in said
        assert http.get("/").status_code == 200
        assert http.get("/").headers["strict-transport-security"]


def test_the_line_for_calls_stands_under_tls_too(tls: Court, authority: trustme.CA) -> None:
    trusting = ssl.create_default_context()
    authority.configure_trust(trusting)
    visitor = Visitor(tls, verify=trusting)
    visitor.sign_in("p1")
    visitor.look()
    with visitor.line(ssl=trusting) as line:
        line.ready().send("caution", where="s1", kind="incident")
        assert line.said()[2]["accepted"]
    visitor.close()


def test_in_the_clear_it_speaks_to_nobody_who_expects_tls(tls: Court) -> None:
    with httpx.Client() as http, pytest.raises(httpx.HTTPError):
        http.get(tls.url.replace("https", "http"))


def test_what_is_served_goes_out_without_delay(tmp_path: Path) -> None:
    """asyncio sets TCP_NODELAY only where a socket names its protocol; accepted ones inherit it."""
    panel = Panel(patient(), MemoryBroker().link, Setting(data=tmp_path), Listening())
    assert panel._socket.proto == socket.IPPROTO_TCP
    panel._socket.close()


def test_a_port_that_is_taken_is_said_so(tmp_path: Path) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        with pytest.raises(Unusable, match=f"127.0.0.1:{port}: .*; end what uses it, or give another"):
            Panel(patient(), MemoryBroker().link, Setting(data=tmp_path), Listening(port=port))


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--host", "192.168.7.2"), "passwords would cross the network in the clear"),
        (("--host", "nowhere.example"), "an address of this machine"),
        (("--certificate", "none.pem"), "give both, or none"),
        (("--certificate", "none.pem", "--key", "none.key"), "a PEM file that is there"),
        (("--port", "99999"), "--port"),
        (("passwords", "--post", "p9"), "desk, p1, p2"),
    ],
    ids=str,
)
def test_bad_input_is_exit_code_2_with_what_would_be_right(
    words: tuple[str, ...], says: str, tmp_path: Path
) -> None:
    came = kerblight("panel", *words, cwd=tmp_path)
    assert came.returncode == 2, came.stderr
    assert says in " ".join(came.stderr.replace("│", " ").split())
    assert "Traceback" not in came.stderr


def test_passwords_are_set_listed_and_taken_away(tmp_path: Path) -> None:
    came = kerblight(
        "panel", "passwords", "--post", "p1", "--data", "d", cwd=tmp_path, given="marshal of post 1\n"
    )
    assert came.returncode == 0, came.stderr
    assert "p1                has a password" in came.stdout
    came = kerblight("panel", "passwords", "--json", "--data", "d", cwd=tmp_path)
    assert json.loads(came.stdout) == {"passwords": {"desk": False, "p1": True, "p2": False}}
    came = kerblight("panel", "passwords", "--post", "p1", "--remove", "--data", "d", cwd=tmp_path)
    assert "p1                none" in came.stdout
    came = kerblight("panel", "passwords", "--post", "p1", "--data", "d", cwd=tmp_path, given="short\n")
    assert came.returncode == 2
    assert "5 characters: give 8 to 128" in came.stderr
