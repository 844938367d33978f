"""mosquitto's configuration, as we write it: for the embedded broker, and for a venue with certificates."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from signals.mqtt.contract import SCREEN_MAX

ALWAYS = (
    "set_tcp_nodelay true",
    "persistence false",
    f"message_size_limit {SCREEN_MAX}",
    "max_queued_messages 10000",
    "log_dest stderr",
    "log_type error",
    "log_type warning",
    "connection_messages false",
)
"""Without set_tcp_nodelay an answer takes 44 to 88 ms; nothing is kept that could come back old."""
TLS = (
    "allow_anonymous false",
    "tls_version tlsv1.2",
    "require_certificate true",
    "use_identity_as_username true",
)
"""At least TLS 1.2, a certificate from everybody, and its common name is the user."""
ACCESS_LIST = "mosquitto.acl"
OWN_LINES = "also.d"
"""A folder for lines of the venue's own, such as a bridge: files `*.conf`, kept whatever is made anew."""
REVOKED = "revoked.crl"


@dataclass(frozen=True, slots=True)
class Listener:
    """Where a broker with certificates listens, and where its files lie on its machine."""

    place: Path
    host: str = "127.0.0.1"
    port: int = 8883
    acl: Path | None = None
    """The access list, where it is not among them: the embedded broker has one of its own."""


def with_passwords(*, port: int, host: str, users: Path, acl: Path, anonymous: bool) -> tuple[str, ...]:
    """Give the lines for a broker of this machine alone: users by name and password."""
    return (
        f"listener {port} {host}",
        f"allow_anonymous {'true' if anonymous else 'false'}",
        f"password_file {users.resolve()}",
        f"acl_file {acl.resolve()}",
        *ALWAYS,
    )


def with_certificates(listener: Listener) -> tuple[str, ...]:
    """Give the lines for a broker that lets in nobody without a certificate of the venue's authority."""
    at = listener.place
    also = () if listener.acl else (f"include_dir {at / OWN_LINES}",)
    return (
        f"listener {listener.port} {listener.host}",
        *TLS,
        f"cafile {at / 'ca.crt'}",
        f"certfile {at / 'broker.crt'}",
        f"keyfile {at / 'broker.key'}",
        f"crlfile {at / REVOKED}",
        f"acl_file {listener.acl or at / ACCESS_LIST}",
        *ALWAYS,
        *also,
    )


def run_as(user: str) -> str:
    """Give the line that keeps mosquitto, started as root, from becoming one who cannot read its files."""
    return f"user {user}"


def written(lines: Iterable[str]) -> str:
    """Write lines as a file."""
    return "\n".join((*lines, ""))
