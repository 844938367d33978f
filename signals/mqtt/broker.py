"""The embedded broker: mosquitto where it is on the PATH, else the `iotcore` wheel.

mosquitto runs with a private configuration: loopback, the generated access list, a random password for
every user (or, with keys, a certificate), nothing kept on disk. The wheel (rumqttd) has no access list, so
it serves simulated venues only, and says so. Both listen on 127.0.0.1 alone; for nodes elsewhere run a
broker of your own with what `kerblight wiring keys` writes, and name it by `--broker`.
"""

from __future__ import annotations

import asyncio
import base64
import getpass
import hashlib
import json
import logging
import secrets
import shutil
import signal
import socket
import sys
from collections.abc import AsyncIterator, Callable, Mapping, Sequence
from contextlib import asynccontextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

from signals.errors import BadInput, Finding, Unusable
from signals.files import own_folder, write_whole
from signals.mqtt.access import Access, access_list, mosquitto_acl
from signals.mqtt.contract import SCREEN_MAX
from signals.mqtt.keys import Keys
from signals.mqtt.link import Credentials, MqttLink, Owner, Will, user_of
from signals.mqtt.mosquitto import Listener, run_as, with_certificates, with_passwords, written
from signals.venue.model import Venue

Kind = Literal["mosquitto", "iotcore"]

HOST = "127.0.0.1"
READY_S = 5.0
LOOK_AGAIN_S = 0.02
END_S = 2.0
HASH_ROUNDS = 101
"""mosquitto's own; the passwords are random, so more would guard nothing."""

_LOG = logging.getLogger(__name__)


@dataclass(slots=True)
class Running:
    """A broker that takes connections. `link` makes a client's link with its own credentials."""

    host: str
    port: int
    kind: Kind
    process: asyncio.subprocess.Process = field(repr=False)
    passwords: Mapping[str, str] = field(repr=False)
    keys: Keys | None
    command: tuple[str, ...] = field(repr=False)
    log: Path = field(repr=False)

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
            tls=self.keys.pair(client).context if self.keys else None,
        )

    async def kill(self) -> None:
        """Let it die, without a goodbye to anybody."""
        with suppress(ProcessLookupError):
            self.process.kill()
        await self.process.wait()

    async def start_again(self) -> None:
        """Start it anew on its port, empty, after it died. Raises Unusable where it does not start."""
        self.process = await _spawn(self.command, self.log)
        await _listening(self.process, self.port, self.log)

    def freeze(self, *, frozen: bool) -> None:
        """Let it stand still with every connection open, or go on."""
        self.process.send_signal(signal.SIGSTOP if frozen else signal.SIGCONT)


@asynccontextmanager
async def embedded_broker(
    venue: Venue, directory: Path, prefer: Kind | None = None, *, port: int = 0, keys: Path | None = None
) -> AsyncIterator[Running]:
    """Run a venue's broker on loopback while the context lasts; port 0 takes a free one.

    `directory` gets `credentials.json` (mode 0600, kept if it is there) and the broker's own files. With
    `keys`, the folder of all holders, there are no passwords: everybody needs a certificate.
    Raises Unusable where there is no broker, it does not start, or it may not serve this venue.
    """
    kind = choose(venue, "mosquitto" if keys else prefer)
    listens = _free(port)
    argv, passwords = _prepare(venue, directory, kind, listens, keys)
    log = directory / "broker.log"
    process = await _spawn(argv, log)
    known = Keys(keys, "sim") if keys else None
    running = Running(HOST, listens, kind, process, passwords, known, tuple(argv), log)
    try:
        await _listening(process, listens, log)
        yield running
    finally:
        await _stop(running.process)


async def run_broker(
    venue: Venue,
    directory: Path,
    ready: Callable[[Running], None],
    prefer: Kind | None = None,
    *,
    port: int = 0,
    keys: Path | None = None,
) -> None:
    """Run a venue's broker until cancelled; `ready` once it listens. Raises Unusable if it ends by itself."""
    async with embedded_broker(venue, directory, prefer, port=port, keys=keys) as running:
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
        write_whole(path, json.dumps(known, indent=1).encode())
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


def _prepare(
    venue: Venue, directory: Path, kind: Kind, port: int, keys: Path | None
) -> tuple[list[str], Mapping[str, str]]:
    """Write what a broker needs, and give its command and the passwords it asks for."""
    own_folder(directory)
    if kind == "iotcore":
        _LOG.warning("the iotcore broker has no access list: anybody on this machine can publish anything")
        return [sys.executable, "-P", "-m", "signals.mqtt.wheel", HOST, str(port), str(SCREEN_MAX)], {}
    access = access_list(venue)
    acl, config = directory / "mosquitto.acl", directory / "mosquitto.conf"
    write_whole(acl, mosquitto_acl(access).encode())
    passwords = {} if keys else ensure_passwords(directory, access)
    if keys:
        lines = with_certificates(Listener(broker_keys(keys), HOST, port, acl.resolve()))
    else:
        users = directory / "mosquitto.users"
        hashed = (f"{user}:{_hashed(word)}" for user, word in passwords.items())
        write_whole(users, written(hashed).encode())
        lines = with_passwords(port=port, host=HOST, users=users, acl=acl, anonymous=venue.simulated)
    write_whole(config, written((run_as(getpass.getuser()), *lines)).encode())
    return ["mosquitto", "-c", str(config)], passwords


def broker_keys(keys: Path) -> Path:
    """Give the broker's own folder of keys: the one named, or `broker` in it.

    Raises:
        BadInput: files a broker needs are not there.

    """
    place = (keys / "broker" if (keys / "broker").is_dir() else keys).resolve()
    needed = ("ca.crt", "broker.crt", "broker.key", "revoked.crl")
    right = "must be there: `kerblight wiring keys` makes it"
    findings = [
        Finding(str(place / name), 0, "--keys", "", right) for name in needed if not (place / name).is_file()
    ]
    if findings:
        raise BadInput(findings)
    return place


def _hashed(password: str) -> str:
    """Hash a password as mosquitto 2 stores it: PBKDF2 with SHA-512."""
    salt = secrets.token_bytes(12)
    key = hashlib.pbkdf2_hmac("sha512", password.encode(), salt, HASH_ROUNDS)
    parts = (base64.b64encode(part).decode("ascii") for part in (salt, key))
    return "$".join(("", "7", str(HASH_ROUNDS), *parts))


async def _spawn(argv: Sequence[str], log: Path) -> asyncio.subprocess.Process:
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
