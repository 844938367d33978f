"""What is fuzzed: each reader with well-formed inputs to spoil, and the one error it may end with.

A target that returns has taken the input; one that raises anything but its documented error has failed.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import msgspec

from signals.cli.options import address
from signals.conform.declared import read as read_declared
from signals.controller.intake import Intake
from signals.controller.log import KINDS_MAX, Complaints
from signals.errors import BadInput, Finding
from signals.health.metrics import where
from signals.monitor import read as monitors
from signals.monitor.latch import Latch
from signals.mqtt.admission import admit
from signals.mqtt.channels import CHANNELS, Role
from signals.mqtt.codec import Malformed, decode, decode_lenient, encode
from signals.mqtt.link import Arrived
from signals.mqtt.topics import Topics
from signals.panel.asking import Asked
from signals.sequence.load import load as load_sequence
from signals.sequence.rates import rates
from signals.venue import explain, lint, load
from signals.venue.importing.read import read as read_lap
from signals.venue.wires import Wire, read_wires, write_wires
from sim.drill.load import load as load_drill
from tests.mqtt.malformed import WELL_FORMED
from tests.mqtt.small import small_venue

CONFIGS = Path(__file__).parents[2] / "configs"
SMALL = small_venue()
TOPICS = Topics.of(SMALL.id, simulated=True)
NAMED = {
    "head": "h1",
    "kart": "1",
    "node": "n1",
    "input": "alarm",
    "loop": "l1",
    "post": "p1",
    "addressee": "n1",
}


@dataclass(frozen=True)
class Target:
    """A reader: `share` of all inputs are its own; `file` is the name its inputs get where it reads files."""

    name: str
    corpus: tuple[bytes, ...]
    run: Callable[[bytes, Path], None]
    share: float


@cache
def harbour() -> Any:
    return load(CONFIGS / "harbour-loop.toml")


def _examples(role: Role | None = None) -> tuple[bytes, ...]:
    return tuple(encode(each.example) for each in CHANNELS if role is None or role in each.readers)


def _strictly(data: bytes, _: Path) -> None:
    """Read as controller and screens do: what is taken is written and read again as the same."""
    for channel in CHANNELS:
        with contextlib.suppress(Malformed):
            taken = decode(channel.message, data)
            assert decode(channel.message, encode(taken)) == taken


def _leniently(data: bytes, _: Path) -> None:
    """Read as nodes do."""
    for channel in CHANNELS:
        if Role.NODE in channel.readers:
            with contextlib.suppress(Malformed):
                decode_lenient(channel.message, data)


def _as_the_monitor(data: bytes, _: Path) -> None:
    for kind in monitors.SHAPES:
        with contextlib.suppress(monitors.Unreadable):
            monitors.decode(kind, data)


def _admitted(data: bytes, _: Path) -> None:
    """Take the first half as a topic, the rest as what is said there."""
    topic, _, payload = data.partition(b"\n")
    with contextlib.suppress(Malformed):
        admit(TOPICS, Arrived(topic.decode("utf-8", "replace"), payload, 1, retained=len(data) % 7 == 0))


COMPLAINTS = Complaints()
INTAKE = Intake(SMALL, TOPICS, COMPLAINTS)


def _taken_in(data: bytes, _: Path) -> None:
    """Let the controller's intake take it on every topic it reads: it only counts what it refuses."""
    for channel in CHANNELS:
        INTAKE.take(Arrived(TOPICS.name(channel.at(NAMED)), data, 1))
    assert len(COMPLAINTS.counts) <= KINDS_MAX + 1, "complaints are told apart without end"


def _file(read: Callable[[Path], object], name: str) -> Callable[[bytes, Path], None]:
    def run(data: bytes, folder: Path) -> None:
        path = folder / name
        path.write_bytes(data)
        findings = _mistakes(read, path)
        assert findings is None or (findings and all(finding.right for finding in findings))

    return run


def _mistakes(read: Callable[[Path], object], path: Path) -> list[Finding] | None:
    """Give what is wrong with a file, None where it is read."""
    try:
        read(path)
    except BadInput as wrong:
        return wrong.findings
    return None


def _venue(path: Path) -> None:
    venue = load(path)
    assert all(each.level == "warning" for each in lint(venue))
    assert explain(venue)


def _sequence(path: Path) -> None:
    load_sequence(path, harbour())


def _drill(path: Path) -> None:
    load_drill(path, harbour())


def _wires(path: Path) -> None:
    with contextlib.suppress(UnicodeDecodeError):
        wires, findings = read_wires(path.read_bytes().decode(), str(path))
        if not findings:
            again, none = read_wires(write_wires(wires), str(path))
            assert (_rowless(again), none) == (_rowless(wires), [])


def _rowless(wires: Sequence[Wire]) -> list[Wire]:
    """Empty lines are not written again."""
    return [msgspec.structs.replace(wire, row=0) for wire in wires]


def _asked(data: bytes, _: Path) -> None:
    """Read a page's call as the page's server does."""
    with contextlib.suppress(msgspec.ValidationError, msgspec.DecodeError, UnicodeError, RecursionError):
        msgspec.json.decode(data, type=Asked)


def _latched(path: Path) -> None:
    """Read the latch: what cannot be read may have been a trip."""
    Latch(path)


def _options(data: bytes, _: Path) -> None:
    text = data.decode("utf-8", "replace")
    for read in (address, where):
        with contextlib.suppress(BadInput):
            read(text)
    with contextlib.suppress(ValueError):
        rates(text)


def _texts(*patterns: str) -> tuple[bytes, ...]:
    return tuple(file.read_bytes() for pattern in patterns for file in sorted(CONFIGS.glob(pattern)))


SMALL_VENUE = (Path(__file__).parents[1] / "venue/small.toml").read_bytes()
ADMITTED = tuple(f"{TOPICS.name(topic)}\n".encode() + said for topic, said in WELL_FORMED.items())
ASKED = (
    b'{"call":{"call":"caution","where":"s2","kind":"incident"},"heard":7,"boot":"k3v9x2","seq":12}',
    b'{"call":{"call":"lift","hold":"caution:s2:p1","checked":true},"heard":null}',
)
LAP = b"x_m,y_m\n0,0\n100,0\n100,60\n0,60\n"
GEOJSON = (
    b'{"type":"Feature","geometry":{"type":"LineString",'
    b'"coordinates":[[9.1,48.1],[9.2,48.1],[9.2,48.2],[9.1,48.1]]}}'
)
TRIP = b'{"tripped":true,"what":"x","where":"h1","due":"red","shown":"green","at":1}'
DECLARED = b'title = "n"\nreboots = true\n'
OPTIONS = (b"mqtts://broker.lan:8883", b"[::1]:9460", b"spin=6,stall=2", b"mqtt://u:p@h", b"30")

TARGETS: tuple[Target, ...] = (
    Target("the strict decoder", _examples(), _strictly, 0.30),
    Target("the nodes' decoder", _examples(Role.NODE), _leniently, 0.15),
    Target("the monitor's decoder", _examples(Role.MONITOR), _as_the_monitor, 0.20),
    Target("topics and payloads", ADMITTED, _admitted, 0.13),
    Target("the controller's intake", tuple(WELL_FORMED.values()), _taken_in, 0.10),
    Target("a page's call", ASKED, _asked, 0.08),
    Target("command-line values", OPTIONS, _options, 0.02),
    Target("the monitor's latch", (TRIP,), _file(_latched, "latch.json"), 0.003),
    Target("a wiring table", _texts("*wired.csv"), _file(_wires, "wires.csv"), 0.004),
    Target("a venue file", (SMALL_VENUE,), _file(_venue, "venue.toml"), 0.003),
    Target("a sequence file", _texts("sequences/*.toml"), _file(_sequence, "s.toml"), 0.003),
    Target("a drill file", _texts("drills/*.toml"), _file(_drill, "d.toml"), 0.003),
    Target("a lap in CSV", (LAP,), _file(read_lap, "lap.csv"), 0.002),
    Target("a lap in GeoJSON", (GEOJSON,), _file(read_lap, "lap.geojson"), 0.001),
    Target("a node's declaration", (DECLARED,), _file(read_declared, "node.toml"), 0.001),
)  # fmt: skip
