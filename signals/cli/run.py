"""`kerblight run`: everything of a venue on this machine, and a sequence played on it if asked."""

from __future__ import annotations

import asyncio
import math
import signal
import socket
import tempfile
from collections.abc import AsyncIterator, Iterator
from contextlib import asynccontextmanager, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

import typer
from msgspec import Struct
from rich.console import Console

from signals.cli.broker import Embedded
from signals.cli.data import broker_named, locked
from signals.cli.kept import Kept
from signals.cli.links import keys_for, links
from signals.cli.options import (
    DEFAULT_DATA,
    DEFAULT_LOG,
    DEFAULT_VENUE,
    PAGE_PORT,
    Address,
    AsJson,
    Incidents,
    KeysDir,
    Logs,
    Metrics,
    NamedVenue,
    address,
    incident_rates,
)
from signals.cli.output import FELL_SHORT, HELD, console, print_json
from signals.cli.recipes import Wanted, metrics_at, recipes
from signals.errors import Unusable
from signals.mqtt.broker import broker_keys
from signals.outputs.plant import wired_nodes
from signals.sequence.cli import venue_file
from signals.sequence.load import Sequence
from signals.sequence.load import load as load_sequence
from signals.sequence.player import Player
from signals.sequence.report import line_of, over_with, summary
from signals.sequence.result import Result
from signals.supervise.supervisor import Supervisor
from signals.venue import load
from signals.venue.model import Venue
from signals.wiring.lint import check

CONNECT_S = 2.0
"""How long somebody's own broker may take to answer before anything is spawned."""

app = typer.Typer(add_completion=False, rich_markup_mode=None)


class Ran(Struct, frozen=True):
    """What came of a run."""

    venue: str
    broker: str
    ended: str
    failed: bool
    processes: list[str]
    sequence: Result | None

    @property
    def held(self) -> bool:
        """Whether nothing fell short."""
        return not self.failed and (self.sequence is None or self.sequence.held)


@dataclass(frozen=True, slots=True)
class Asked:
    """What the command line asks for, checked."""

    venue: Venue
    sequence: Sequence | None
    wanted: Wanted
    for_s: float | None
    as_json: bool
    kept: bool
    """Whether the data folder outlives the run."""


@app.command()
def run(
    *,
    venue: NamedVenue = None,
    broker: Annotated[
        str, typer.Option(help="embedded, mosquitto, wheel, or the URL of your own.", metavar="BROKER")
    ] = "embedded",
    data: Annotated[
        Path | None,
        typer.Option(
            help="Where journal, logs and credentials are kept.",
            show_default="./var; with --sequence a folder of its own that is thrown away",
        ),
    ] = None,
    keys: KeysDir = None,
    log: Logs = DEFAULT_LOG,
    metrics: Metrics = "",
    headless: Annotated[bool, typer.Option("--headless", help="Show no window.")] = False,
    for_s: Annotated[
        float | None,
        typer.Option("--for", min=0, metavar="S", help="End after so many seconds.", show_default="never"),
    ] = None,
    sequence: Annotated[
        Path | None, typer.Option(help="Play this file; the window stays open after its last step.")
    ] = None,
    picture: Annotated[Path | None, typer.Option(help="Keep a picture of the window at the end.")] = None,
    film: Annotated[Path | None, typer.Option(help="Keep the window's last seconds as a GIF.")] = None,
    panel: Annotated[
        bool | None,
        typer.Option("--panel/--no-panel", help="Serve the page too.", show_default="with the window"),
    ] = None,
    incidents: Incidents = "0",
    seed: Annotated[
        int | None,
        typer.Option(min=0, help="Everything random in the world.", show_default="the sequence's, else 1"),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Run broker, monitor, controller, nodes and world until the window closes or the time is over.

    Examples: kerblight run; kerblight run --venue configs/quarry-ring.toml --incidents 30;
    kerblight run --headless --sequence configs/sequences/full-day.toml --data var/day
    """
    file = venue_file(sequence, venue) if sequence else venue or DEFAULT_VENUE
    incident_rates(incidents)
    if metrics:
        metrics_at(metrics, "controller")
    loaded = load(file)
    to_play = load_sequence(sequence, loaded) if sequence is not None else None
    if seed is None:
        seed = to_play.file.start.seed if to_play else 1
    with _folder(data, alone=sequence is not None) as folder, locked(folder):
        embedded, where = _broker(broker, keys)
        wanted = Wanted(
            venue=file.resolve(),
            data=folder.resolve(),
            broker=where,
            embedded=embedded,
            headless=headless,
            picture=picture.resolve() if picture else None,
            film=film.resolve() if film else None,
            incidents=incidents,
            seed=seed,
            keys=keys.resolve() if keys else None,
            log=log,
            metrics=metrics,
            wired=_wired(loaded),
            page=_free_port() if (not headless if panel is None else panel) else None,
        )
        with broker_named(folder, where.url, wanted.keys):
            kept = data is not None or sequence is None
            ran = asyncio.run(_run(Asked(loaded, to_play, wanted, for_s, as_json, kept)))
    if as_json:
        print_json(ran)
    raise typer.Exit(HELD if ran.held else FELL_SHORT)


def _free_port() -> int:
    """Give the page's own port where it is free, else any that is."""
    for port in (PAGE_PORT, 0):
        with socket.socket() as probe:
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                probe.bind(("127.0.0.1", port))
            except OSError:
                continue
            free: int = probe.getsockname()[1]
            return free
    raise Unusable("no port of this machine is free for the page; leave it out by --no-panel")


def _wired(venue: Venue) -> bool:
    """Whether the venue has wires to drive; a table with findings is refused before anything runs."""
    if not wired_nodes(venue):
        return False
    check(venue)
    return True


@contextmanager
def _folder(asked: Path | None, *, alone: bool) -> Iterator[Path]:
    """Give the data folder; a sequence for which none was asked starts afresh, with nothing in its way."""
    if asked or not alone:
        yield asked or DEFAULT_DATA
        return
    with tempfile.TemporaryDirectory(prefix="kerblight-") as folder:
        yield Path(folder)


def _broker(asked: str, keys: Path | None) -> tuple[Embedded | None, Address]:
    """Read `--broker`: one of the embedded ones on a free port, or somebody's own by its URL."""
    if asked in set(Embedded):
        if keys is not None:
            broker_keys(keys)
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            return Embedded(asked), Address("127.0.0.1", probe.getsockname()[1], secure=keys is not None)
    where = address(asked)
    keys_for(where, keys, "sim")
    try:
        socket.create_connection((where.host, where.port), timeout=CONNECT_S).close()
    except OSError as error:
        right = f"start one there, or take one of {', '.join(Embedded)}"
        raise Unusable(f"no broker answers at {where.url} ({error.strerror or error}); {right}") from None
    return None, where


async def _run(asked: Asked) -> Ran:
    say = console(stderr=asked.as_json)
    told = asyncio.Event()
    for number in (signal.SIGTERM, signal.SIGINT):
        asyncio.get_running_loop().add_signal_handler(number, told.set)
    supervisor = Supervisor(recipes(asked.wanted), tell=lambda line: say.print(f"  {line}"))
    until = "" if asked.kept else " until this ends; --data keeps one"
    where = f"{asked.venue.name} at {asked.wanted.broker.url}, record in {asked.wanted.data}{until}"
    say.print(where, soft_wrap=True)
    async with supervisor:
        if asked.wanted.page is not None:
            at = f"http://127.0.0.1:{asked.wanted.page}/"
            say.print(f"Page for phone, tablet and desk: {at}", soft_wrap=True)
            say.print(f"Drivers' board: {at}board", soft_wrap=True)
        if not asked.wanted.headless:
            say.print("Close the window, or press Ctrl-C here, to end.")
        ended, result = await _until_over(asked, supervisor, told, say)
        processes = list(supervisor.names())
    if result is not None and not asked.as_json:
        summary(result, say)
    return Ran(asked.venue.id, asked.wanted.broker.url, ended, supervisor.failed, processes, result)


async def _until_over(
    asked: Asked, supervisor: Supervisor, told: asyncio.Event, say: Console
) -> tuple[str, Result | None]:
    """Wait for whichever comes first: the end asked for, the window's, a failure, the sequence's."""
    player = _player(asked, supervisor, say)
    end_s = asyncio.get_running_loop().time() + (math.inf if asked.for_s is None else asked.for_s)
    async with _tasks(player, supervisor, told) as (playing, over, signalled):
        waiting = {over, signalled} | ({playing} if playing else set())
        done = await _first(waiting, end_s)
        if playing is not None and playing in done:
            playing.result()
        if player is not None and playing in done and not asked.wanted.headless:
            line = f"{over_with(player.result())} Close the window to end."
            supervisor.banner(line, stays=True)
            say.print(line, soft_wrap=True)
            done |= await _first({over, signalled}, end_s)
    why = supervisor.why if over in done else _why(done, signalled, playing)
    return why, player.result() if player else None


async def _first(waiting: set[asyncio.Task[object]], end_s: float) -> set[asyncio.Task[object]]:
    """Wait for the first of several, at most until `end_s` of the loop's clock; gives those that are done."""
    left_s = end_s - asyncio.get_running_loop().time()
    timeout = None if math.isinf(left_s) else max(0.0, left_s)
    done, _ = await asyncio.wait(waiting, timeout=timeout, return_when=asyncio.FIRST_COMPLETED)
    return done


def _why(
    done: set[asyncio.Task[object]], signalled: asyncio.Task[object], playing: asyncio.Task[object] | None
) -> str:
    if signalled in done:
        return "asked to end"
    return "the sequence is over" if playing in done else "the time is over"


def _player(asked: Asked, supervisor: Supervisor, say: Console) -> Player | None:
    if asked.sequence is None:
        return None
    wanted = asked.wanted
    return Player(
        asked.sequence,
        asked.venue,
        links(wanted.broker.url, wanted.data, wanted.keys, "sim"),
        processes=Kept(supervisor),
        tell=lambda result: say.print(line_of(result), soft_wrap=True),
    )


@asynccontextmanager
async def _tasks(
    player: Player | None, supervisor: Supervisor, told: asyncio.Event
) -> AsyncIterator[tuple[asyncio.Task[object] | None, asyncio.Task[object], asyncio.Task[object]]]:
    playing: asyncio.Task[object] | None = asyncio.create_task(player.run()) if player else None
    over: asyncio.Task[object] = asyncio.create_task(supervisor.over.wait())
    signalled: asyncio.Task[object] = asyncio.create_task(told.wait())
    tasks = [task for task in (playing, over, signalled) if task is not None]
    try:
        yield playing, over, signalled
    finally:
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)
