"""The venue's broker, from outside: reached, how fast it answers, whether its access list is in force.

What is published goes to a topic of no contract, so nothing on the venue acts on it.
"""

from __future__ import annotations

import os
import secrets
import ssl
from dataclasses import dataclass, field
from pathlib import Path
from statistics import median

from signals.cli.data import read_credentials
from signals.cli.options import Address
from signals.doctor import probe
from signals.doctor.seen import Look, Seen
from signals.mqtt.channels import Role
from signals.mqtt.keys import Keys
from signals.mqtt.topics import Topics
from signals.venue.model import Venue

PAIRS = 5
HELD_UP_S = 0.02
"""Of two messages at once the second acknowledged later than this: it waited for the first's ACK."""
NOT_USERS = frozenset({"ca", "broker", "panel", "authority"})
USERS = (Role.READER, Role.BOARD, Role.MONITOR, Role.CONTROLLER)
"""As whom the doctor comes in, the least first; any user whose keys are there will do."""


def look(venue: Venue, where: Address, keys: Path | None, data: Path) -> list[Seen]:
    """Look at a broker; takes about a second."""
    seen = Look("broker")
    try:
        who = _who(where, keys, data)
    except OSError as error:
        seen.at("keys", False, str(error), "see the keys above")
        return seen.seen
    client = f"{who.user or 'doctor'}.doctor-{os.getpid()}"
    try:
        with probe.connected(
            where.host, where.port, client, tls=who.tls, user=who.user, password=who.password
        ) as came:
            by = f", {version}" if (version := _tls(came)) else ""
            seen.at("reached", True, f"{where.url} as {who.user or 'nobody in particular'}{by}")
            _nodelay(seen, venue, came)
            _access_list(seen, venue, came)
    except OSError as error:
        mend = (
            "start it; look whether host, port and --keys are right, and whether its keys are of this venue"
        )
        seen.at("reached", False, f"{where.url}: {error}", mend)
        return seen.seen
    _strangers(seen, venue, where)
    return seen.seen


@dataclass(frozen=True, slots=True)
class _Who:
    """As whom the doctor connects; without a user as anybody."""

    user: str | None = None
    password: str = field(default="", repr=False)
    tls: ssl.SSLContext | None = None


def _who(where: Address, keys: Path | None, data: Path) -> _Who:
    if where.secure and keys is not None:
        held = _held(keys)
        holder = next((file.parent.name for file in sorted(keys.glob(f"*/{held}.crt"))), "")
        return _Who(tls=Keys(keys, holder).pair(held).context(), user=held)
    known = read_credentials(data)
    user = next((str(role) for role in USERS if role in known), None)
    return _Who(user, known[user]) if user else _Who()


def _held(keys: Path) -> str:
    """Give a user whose certificate is in a folder: the least of them."""
    names = {file.stem for file in (*keys.glob("*.crt"), *keys.glob("*/*.crt"))} - {
        "ca",
        "broker",
        "panel",
        "authority",
    }
    least = (str(role) for role in USERS if role in names)
    user = next(least, min(names, default=""))
    if not user:
        raise FileNotFoundError(f"{keys}: no user's certificate in it")
    return user


def _tls(came: probe.Probe) -> str:
    return str(came.carrier.version()) if isinstance(came.carrier, ssl.SSLSocket) else ""


def _topic(venue: Venue) -> str:
    return Topics.of(venue.id, simulated=venue.simulated).name("doctor")


def _nodelay(seen: Look, venue: Venue, came: probe.Probe) -> None:
    """Publish pairs at once: without TCP_NODELAY the second answer waits for the first to be acknowledged."""
    pairs_s = [came.publish(_topic(venue), b"", times=2) for _ in range(PAIRS)]
    said = f"two messages at once are acknowledged within {median(pairs_s) * 1000:.1f} ms"
    mend = "write `set_tcp_nodelay true` into mosquitto.conf (kerblight wiring keys does), and restart it"
    seen.at("TCP_NODELAY", median(pairs_s) < HELD_UP_S, said, mend)


def _access_list(seen: Look, venue: Venue, came: probe.Probe) -> None:
    """Write to a topic nobody may write to, while listening there."""
    word = secrets.token_hex(8).encode()
    listens = came.subscribe(_topic(venue))
    came.publish(_topic(venue), word)
    heard = listens and came.hears(word)
    said = "what nobody may say is passed on" if heard else "what nobody may say is not passed on"
    mend = "name the access list by acl_file in mosquitto.conf; `kerblight wiring keys` makes both"
    seen.at("access list", not heard, said, mend, needed=not venue.simulated)


def _strangers(seen: Look, venue: Venue, where: Address) -> None:
    """Knock without a name, a password or a certificate."""
    tls = _trusting() if where.secure else None
    try:
        with probe.connected(where.host, where.port, "doctor", tls=tls) as came:
            came.publish(_topic(venue), b"")
            let_in = True
    except OSError:
        let_in = False
    said = "let in" if let_in else "refused"
    mend = "write `allow_anonymous false` into mosquitto.conf, and with TLS `require_certificate true`"
    if venue.simulated:
        mend = f"a run's own broker lets them listen to a simulated venue, on this machine alone; else {mend}"
    seen.at("strangers", not let_in, said, mend, needed=not venue.simulated)


def _trusting() -> ssl.SSLContext:
    """Trust whoever answers: a stranger has no certificate and knows no authority."""
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    context.check_hostname = False
    context.verify_mode = ssl.CERT_NONE
    return context
