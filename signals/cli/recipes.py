"""What `run` spawns, in order: every process by its verb, with no secret on its command line."""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path

from signals.cli.broker import Embedded
from signals.cli.data import log_file
from signals.cli.options import Address
from signals.errors import BadInput, Finding
from signals.health.logs import LogForm
from signals.health.metrics import where
from signals.supervise.child import Recipe

FIGURES = ("controller", "monitor", "nodes", "outputs", "sim", "broker", "panel")
PORT_MAX = 65535


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """What is to run, with paths resolved; `embedded` None where the broker is somebody's own."""

    venue: Path
    data: Path
    broker: Address
    embedded: Embedded | None
    headless: bool = True
    picture: Path | None = None
    film: Path | None = None
    incidents: str = "0"
    seed: int = 1
    keys: Path | None = None
    """The folder of all holders' keys, where the broker is reached by mqtts."""
    log: LogForm = LogForm.TEXT
    metrics: str = ""
    """Where the controller serves its figures, the others from the next port on; "" nowhere."""
    wired: bool = False
    """Whether the venue's wiring table has nodes of its own to drive."""
    page: int | None = None
    """The port of this machine on which the page is served; None serves none."""


def recipes(wanted: Wanted) -> list[Recipe]:
    """Give the recipes in the order of spawning: broker; monitor, sim, nodes, outputs; controller; page.

    Every part bears the absence of the others. The controller comes when all it commands is up: it waits
    only so long for equipment to be heard.
    """
    monitor, controller = _part(wanted, "monitor"), _part(wanted, "controller")
    nodes = [_part(wanted, "nodes", waits=False)]
    if wanted.wired:
        nodes.append(_part(wanted, "outputs", waits=False))
    return [*_broker(wanted), monitor, _sim(wanted), *nodes, controller, *_page(wanted)]


def _verb(wanted: Wanted, verb: str, *options: str) -> tuple[str, ...]:
    ours = ("--venue", str(wanted.venue), "--data", str(wanted.data), "--log", wanted.log)
    figures = ("--metrics", metrics_at(wanted.metrics, verb)) if wanted.metrics else ()
    return (sys.executable, "-m", "signals.cli", verb, *ours, *figures, *options)


def metrics_at(first: str, verb: str) -> str:
    """Give where a part of a run serves its figures: each has its own port, the controller the first.

    Raises:
        BadInput: there are not so many ports from the first on.

    """
    host, port = where(first)
    if not 0 < port <= PORT_MAX - len(FIGURES):
        right = f"a port from 1 to {PORT_MAX - len(FIGURES)}: {', '.join(FIGURES)} take one each from it on"
        raise BadInput([Finding("command line", 0, "--metrics", repr(first), right)])
    return f"{host}:{port + FIGURES.index(verb)}"


def _part(wanted: Wanted, name: str, *, waits: bool = True) -> Recipe:
    argv = _verb(wanted, name, *_reached(wanted))
    return Recipe(name=name, argv=argv, log=log_file(wanted.data, name), waits=waits)


def _page(wanted: Wanted) -> list[Recipe]:
    if wanted.page is None:
        return []
    argv = _verb(wanted, "panel", *_reached(wanted), "--port", str(wanted.page))
    return [Recipe(name="panel", argv=argv, log=log_file(wanted.data, "panel"))]


def _reached(wanted: Wanted) -> tuple[str, ...]:
    """Give the options that say how the broker is reached."""
    keys = ("--keys", str(wanted.keys)) if wanted.keys else ()
    return ("--broker", wanted.broker.url, *keys)


def _broker(wanted: Wanted) -> list[Recipe]:
    if wanted.embedded is None:
        return []
    keys = ("--keys", str(wanted.keys)) if wanted.keys else ()
    argv = _verb(wanted, "broker", "--kind", wanted.embedded, "--port", str(wanted.broker.port), *keys)
    return [Recipe(name="broker", argv=argv, log=log_file(wanted.data, "broker"))]


def _sim(wanted: Wanted) -> Recipe:
    options = [*_reached(wanted), "--seed", str(wanted.seed), "--incidents", wanted.incidents]
    if wanted.headless:
        options.append("--headless")
    if wanted.picture is not None:
        options += ["--picture", str(wanted.picture)]
    if wanted.film is not None:
        options += ["--film", str(wanted.film)]
    argv = _verb(wanted, "sim", *options)
    return Recipe(
        name="sim", argv=argv, log=log_file(wanted.data, "sim"), waits=False, ends_run=not wanted.headless
    )
