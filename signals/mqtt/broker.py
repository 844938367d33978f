"""The embedded broker: mosquitto where it is on the PATH, else the `iotcore` wheel.

mosquitto runs with a private configuration: loopback, the generated access list, a random
password for every user, nothing kept on disk. The wheel (rumqttd) has no access list, so it serves
simulated venues only, and says so. Both listen on 127.0.0.1 alone; for nodes elsewhere run a
broker of your own with the `mosquitto.acl` written here, and name it by `--broker`.
"""

from __future__ import annotations

import asyncio
import base64
import getpass
import hashlib
import json
import logging
import os
import secrets
import shutil
import socket
import sys
from collections.abc import AsyncIterator, Callable, Mapping
from contextlib import asynccontextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

from signals.errors import BadInput, Finding, Unusable
from signals.mqtt.access import Access, access_list, mosquitto_acl
from signals.mqtt.contract import SCREEN_MAX
from signals.mqtt.link import Credentials, MqttLink, Owner, Will, user_of
from signals.venue.model import Venue

Kind = Literal["mosquitto", "iotcore"]

HOST = "127.0.0.1"
READY_S = 5.0
LOOK_AGAIN_S = 0.02
END_S = 2.0
HASH_ROUNDS = 101
"""mosquitto's own; the passwords are random, so more would guard nothing."""

_LOG = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Running:
    """A broker that takes connections. `link` makes a client's link with its own credentials."""

    host: str
    port: int
    kind: Kind
    process: asyncio.subprocess.Process = field(repr=False)
    passwords: Mapping[str, str] = field(repr=False)

    def credentials(self, client: str) -> Credentials | None:
        """Give a client's credentials, by the user in its id; None where the broker asks for none."""
        user = user_of(client)
        return Credentials(user, self.passwords[user]) if user in self.passwords else None

    def link(
        self,
        client: str,
        *,
        subscriptions: tuple[tuple[str, int], ...] = (),
        will: Will | None = None,
        credentials: Credentials | None = None,
        owner: Owner | None = None,
    ) -> MqttLink:
        """Make a client's link (a `signals.part.MakeLink`); nothing connects before `run`."""
        return MqttLink(
            self.host,
            self.port,
            client,
            subscriptions=subscriptions,
            will=will,
            credentials=credentials or self.credentials(client),
            owner=owner,
        )


@asynccontextmanager
async def embedded_broker(
    venue: Venue, directory: Path, prefer: Kind | None = None, *, port: int = 0
) -> AsyncIterator[Running]:
    """Run a venue's broker on loopback while the context lasts; port 0 takes a free one.

    `directory` gets `credentials.json` (mode 0600, kept if it is there) and the broker's own files.
    Raises Unusable where there is no broker, it does not start, or it may not serve this venue.
    """
    kind = choose(venue, prefer)
    listens = _free(port)
    argv, passwords = _prepare(venue, directory, kind, listens)
    process = await _spawn(argv, directory / "broker.log")
    try:
        await _listening(process, listens, directory / "broker.log")
        yield Running(HOST, listens, kind, process, passwords)
    finally:
        await _stop(process)


async def run_broker(
    venue: Venue,
    directory: Path,
    ready: Callable[[Running], None],
    prefer: Kind | None = None,
    *,
    port: int = 0,
) -> None:
    """Run a venue's broker until cancelled; `ready` once it listens. Raises Unusable if it ends by itself."""
    async with embedded_broker(venue, directory, prefer, port=port) as running:
        ready(running)
        code = await running.process.wait()
        raise Unusable(f"the broker ended with exit code {code}\n{_tail(directory / 'broker.log')}".rstrip())


def choose(venue: Venue, prefer: Kind | None = None) -> Kind:
    """Decide which broker serves a venue. Raises Unusable naming what to install where none can."""
    kind = prefer or ("mosquitto" if shutil.which("mosquitto") else "iotcore")
    if kind == "mosquitto" and not shutil.which("mosquitto"):
        raise Unusable("no mosquitto on the PATH; install it with: sudo apt-get install -y mosquitto")
    if kind == "iotcore" and not venue.simulated:
        raise Unusable(
            f"{venue.id} has real equipment, and the iotcore broker has no access list: install mosquitto "
            "(sudo apt-get install -y mosquitto) or name your own broker by --broker"
        )
    return kind


def ensure_passwords(directory: Path, access: Access) -> dict[str, str]:
    """Give every user a random password, keeping those in `credentials.json`; mode 0600."""
    path = directory / "credentials.json"
    known = _read_passwords(path)
    missing = {user: secrets.token_urlsafe(18) for user in access.users if user not in known}
    if missing:
        known |= missing
        _write_private(path, json.dumps(known, indent=1))
    return {user: known[user] for user in access.users}


def _read_passwords(path: Path) -> dict[str, str]:
    if not path.exists():
        return {}
    try:
        known = json.loads(path.read_text(encoding="utf-8"))
    except ValueError:
        known = None
    if not isinstance(known, dict) or not all(isinstance(word, str) for word in known.values()):
        right = "must be a JSON object of user and password; delete the file and a new one is made"
        raise BadInput([Finding(str(path), 0, "credentials", "", right)])
    return known


def _write_private(path: Path, text: str) -> None:
    """Write a file only its owner can read, whole or not at all."""
    fresh = path.with_suffix(".new")
    fresh.unlink(missing_ok=True)
    with os.fdopen(
        os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w", encoding="utf-8"
    ) as file:
        file.write(text)
    fresh.replace(path)


def _prepare(venue: Venue, directory: Path, kind: Kind, port: int) -> tuple[list[str], Mapping[str, str]]:
    """Write what a broker needs, and give its command and the passwords it asks for."""
    directory.mkdir(parents=True, exist_ok=True)
    if kind == "iotcore":
        _LOG.warning("the iotcore broker has no access list: anybody on this machine can publish anything")
        return [sys.executable, "-P", "-m", "signals.mqtt.wheel", HOST, str(port), str(SCREEN_MAX)], {}
    access = access_list(venue)
    passwords = ensure_passwords(directory, access)
    return _mosquitto(venue, directory, access, passwords, port), passwords


def _mosquitto(
    venue: Venue, directory: Path, access: Access, passwords: Mapping[str, str], port: int
) -> list[str]:
    """Write mosquitto's files, and give the command that reads them."""
    users, acl, config = (directory / f"mosquitto.{part}" for part in ("users", "acl", "conf"))
    _write_private(users, "".join(f"{user}:{_hashed(word)}\n" for user, word in passwords.items()))
    _write_private(acl, mosquitto_acl(access))
    _write_private(config, _configuration(venue, users, acl, port))
    return ["mosquitto", "-c", str(config)]


def _configuration(venue: Venue, users: Path, acl: Path, port: int) -> str:
    """Write mosquitto.conf. As root mosquitto would become another user, who cannot read the files."""
    return "\n".join(
        (
            f"listener {port} {HOST}",
            f"user {getpass.getuser()}",
            f"allow_anonymous {'true' if venue.simulated else 'false'}",
            f"password_file {users.resolve()}",
            f"acl_file {acl.resolve()}",
            "set_tcp_nodelay true",
            "persistence false",
            f"message_size_limit {SCREEN_MAX}",
            "max_queued_messages 10000",
            "log_dest stderr",
            "log_type error",
            "log_type warning",
            "connection_messages false",
            "",
        )
    )


def _hashed(password: str) -> str:
    """Hash a password as mosquitto 2 stores it: PBKDF2 with SHA-512."""
    salt = secrets.token_bytes(12)
    key = hashlib.pbkdf2_hmac("sha512", password.encode(), salt, HASH_ROUNDS)
    parts = (base64.b64encode(part).decode("ascii") for part in (salt, key))
    return "$".join(("", "7", str(HASH_ROUNDS), *parts))


async def _spawn(argv: list[str], log: Path) -> asyncio.subprocess.Process:
    """Start the broker so that it dies with this process, however that dies (where the system can)."""
    leash = ["setpriv", "--pdeathsig", "KILL"] if shutil.which("setpriv") else []
    with log.open("ab") as said:
        return await asyncio.create_subprocess_exec(
            *leash, *argv, stdin=asyncio.subprocess.DEVNULL, stdout=said, stderr=said
        )


async def _listening(process: asyncio.subprocess.Process, port: int, log: Path) -> None:
    """Wait until a connection is taken; Unusable if the process ends, or after `READY_S`."""
    deadline = asyncio.get_running_loop().time() + READY_S
    while process.returncode is None:
        with suppress(OSError):
            _, writer = await asyncio.open_connection(HOST, port)
            writer.close()
            await writer.wait_closed()
            return
        if asyncio.get_running_loop().time() > deadline:
            break
        await asyncio.sleep(LOOK_AGAIN_S)
    raise Unusable(f"the broker does not start on port {port}\n{_tail(log)}".rstrip())


async def _stop(process: asyncio.subprocess.Process) -> None:
    """End it, by force if it must be; the wheel's broker knows no other way."""
    with suppress(ProcessLookupError):
        process.terminate()
    try:
        await asyncio.wait_for(process.wait(), END_S)
    except TimeoutError:
        process.kill()
        await process.wait()


def _free(port: int) -> int:
    """Give a port nobody listens on: this one, or any for 0. Raises Unusable if it is taken."""
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((HOST, port))
        except OSError as taken:
            raise Unusable(
                f"port {port} on {HOST}: {taken.strerror}; end what uses it or name another"
            ) from None
        free: int = probe.getsockname()[1]
        return free


def _tail(log: Path, lines: int = 5) -> str:
    written = log.read_text(encoding="utf-8", errors="replace").splitlines() if log.exists() else []
    return "\n".join(f"  {line}" for line in written[-lines:])
