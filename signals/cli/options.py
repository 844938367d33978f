"""The options all verbs share, and the values they give."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Annotated
from urllib.parse import urlsplit

import typer

from signals.errors import BadInput, Finding
from signals.health.logs import LogForm
from signals.sequence.rates import Rates, rates

MQTT_PORT = 1883
MQTTS_PORT = 8883
PAGE_PORT = 8460
"""Where the page is served, unless another port is asked for or this one is taken."""


def configs() -> Path:
    """Folder of the venues and sequences that come along: of a checkout, or inside an installed wheel."""
    package = Path(__file__).resolve().parents[1]
    installed = package / "configs"
    return installed if installed.is_dir() else package.parent / "configs"


DEFAULT_VENUE = configs() / "harbour-loop.toml"
DEFAULT_DATA = Path("var")

VenueFile = Annotated[
    Path, typer.Option("--venue", help="The venue file.", show_default="harbour-loop.toml, which comes along")
]
"""`venue: VenueFile = DEFAULT_VENUE`"""
NamedVenue = Annotated[
    Path | None,
    typer.Option(
        "--venue",
        help="The venue file.",
        show_default="the one a sequence or a record names, where it comes along; else harbour-loop.toml",
    ),
]
"""`venue: NamedVenue = None`, for verbs that read what names its venue; see `venue_named`."""
DataDir = Annotated[
    Path, typer.Option("--data", help="Where journal, logs and credentials are kept.", show_default="./var")
]
"""`data: DataDir = DEFAULT_DATA`"""
DEFAULT_BROKER = ""
"""The broker of the run that uses the data folder, else the machine's own; see `data.broker_of`."""
BrokerUrl = Annotated[
    str,
    typer.Option(
        "--broker",
        help="The broker to use: mqtt://HOST[:PORT], or mqtts://HOST[:PORT] with --keys.",
        metavar="URL",
        show_default="the one `kerblight run` uses, else mqtt://127.0.0.1:1883",
    ),
]
"""`broker: BrokerUrl = DEFAULT_BROKER`"""
KeysDir = Annotated[
    Path | None,
    typer.Option(
        "--keys",
        metavar="DIR",
        help="For mqtts: a folder that `kerblight wiring keys` made.",
        show_default="none",
    ),
]
"""`keys: KeysDir = None`"""
Incidents = Annotated[
    str,
    typer.Option(
        help="What chance brings to the simulated track: so many incidents an hour of driving, "
        'or "spin=6,stall=2".',
        metavar="RATES",
    ),
]
"""`incidents: Incidents = "0"`"""
DEFAULT_LOG = LogForm.TEXT
Logs = Annotated[
    LogForm, typer.Option("--log", help="What log lines on stderr are: text, or one JSON object a line.")
]
"""`log: Logs = DEFAULT_LOG`"""
Metrics = Annotated[
    str,
    typer.Option(
        "--metrics",
        metavar="[HOST:]PORT",
        help="Serve figures for Prometheus; without a host on this machine alone.",
        show_default="none",
    ),
]
"""`metrics: Metrics = ""`"""
AsJson = Annotated[bool, typer.Option("--json", help="Write the result as JSON on stdout.")]
"""`as_json: AsJson = False`"""


def venue_named(venue: str) -> Path:
    """Give the file of the venue that comes along under an id, the default one where none does."""
    named = configs() / f"{venue}.toml"
    return named if named.exists() else DEFAULT_VENUE


def incident_rates(asked: str) -> Rates:
    """Read `--incidents`.

    Raises:
        BadInput: not of that form.

    """
    try:
        return rates(asked)
    except ValueError as error:
        raise wrong("--incidents", asked, str(error)) from None


def wrong(option: str, value: object, right: str) -> BadInput:
    """Make the complaint about one option's value."""
    return BadInput([Finding("command line", 0, option, repr(str(value)), right)])


@dataclass(frozen=True, slots=True)
class Address:
    """Where a broker listens."""

    host: str
    port: int
    secure: bool = False
    """Whether by TLS, with a certificate on both sides."""

    @property
    def url(self) -> str:
        """The address as `--broker` takes it."""
        host = f"[{self.host}]" if ":" in self.host else self.host
        return f"{'mqtts' if self.secure else 'mqtt'}://{host}:{self.port}"


def address(url: str) -> Address:
    """Read a broker's URL.

    Raises:
        BadInput: not of the form mqtt://HOST[:PORT] or mqtts://HOST[:PORT], or with a password in it.

    """
    form = "write mqtt://HOST or mqtt://HOST:PORT, such as mqtt://127.0.0.1:1883; mqtts:// for TLS"
    try:
        parts = urlsplit(url if "//" in url else f"//{url}", scheme="mqtt")
    except ValueError:
        raise wrong("--broker", url, form) from None
    if parts.password or parts.username:
        right = "give no user or password here: they are read from credentials.json in the data folder"
        raise BadInput([Finding("command line", 0, "--broker", "", right)])
    secure = parts.scheme == "mqtts"
    try:
        port = parts.port or (MQTTS_PORT if secure else MQTT_PORT)
    except ValueError:
        raise wrong("--broker", url, "the port is a number from 1 to 65535") from None
    if parts.scheme not in ("mqtt", "mqtts") or not parts.hostname or parts.path.strip("/"):
        raise wrong("--broker", url, form)
    return Address(parts.hostname, port, secure)
