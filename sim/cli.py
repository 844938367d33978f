"""`kerblight sim`: the simulated world, and the desk's window on it."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

import typer

from signals.cli.links import links
from signals.cli.options import (
    DEFAULT_BROKER,
    DEFAULT_DATA,
    DEFAULT_LOG,
    DEFAULT_VENUE,
    BrokerUrl,
    DataDir,
    Incidents,
    KeysDir,
    Logs,
    Metrics,
    VenueFile,
    incident_rates,
)
from signals.cli.process import Telling, announce, run_part, watching
from signals.clock import Clock
from signals.errors import BadInput, Finding, Unusable
from signals.files import own_folder
from signals.health.logs import set_up
from signals.part import MakeLink, Part
from signals.venue import load
from signals.venue.model import Venue
from sim.practice import NAME, Practice
from sim.world import World

app = typer.Typer(add_completion=False, rich_markup_mode=None)


@app.command()
def sim(
    *,
    venue: VenueFile = DEFAULT_VENUE,
    broker: BrokerUrl = DEFAULT_BROKER,
    data: DataDir = DEFAULT_DATA,
    keys: KeysDir = None,
    log: Logs = DEFAULT_LOG,
    metrics: Metrics = "",
    seed: Annotated[int, typer.Option(min=0, help="Everything random follows from it.")] = 1,
    headless: Annotated[bool, typer.Option("--headless", help="The world alone, without a window.")] = False,
    no_world: Annotated[
        bool, typer.Option("--no-world", help="The window alone: the world runs elsewhere.")
    ] = False,
    post: Annotated[
        str, typer.Option(help="Whose window it is.", show_default="the first supervisor's")
    ] = "",
    picture: Annotated[Path | None, typer.Option(help="Keep a picture of the window at the end.")] = None,
    film: Annotated[Path | None, typer.Option(help="Keep the window's last seconds as a GIF.")] = None,
    incidents: Incidents = "0",
) -> None:
    """Run the simulated world and its window, on a venue that runs, until the window is closed.

    Example, beside `kerblight run`: kerblight sim --no-world --post p1
    """
    set_up(log, "sim")
    loaded = load(venue)
    known = ", ".join(each.id for each in loaded.posts)
    if post and post not in {each.id for each in loaded.posts}:
        raise BadInput(
            [Finding("command line", 0, "--post", repr(post), f"one of the venue's posts: {known}")]
        )
    if headless and no_world:
        right = "give only one of --headless and --no-world: together they leave nothing to run"
        raise BadInput([Finding("command line", 0, "--no-world", "", right)])
    rates, kept = incident_rates(incidents), Kept(picture, film)
    make_link = links(broker, data, keys, "sim")
    with practice(data, wanted=not no_world) as file:
        world = (
            None
            if no_world
            else World(loaded, make_link, seed=seed, clock=Clock(), rates=rates, practice=file)
        )
        telling = Telling(data, loaded.id, metrics)
        if headless and not kept and world is not None:
            run_part("sim", world, telling)
            return
        with watching("sim", world, telling) as watch:
            parts = (watch,) if world is None else (world, watch)
            _window(loaded, make_link, parts, post, kept, headless=headless)


@dataclass(frozen=True, slots=True)
class Kept:
    """What is to be kept of the window."""

    picture: Path | None
    film: Path | None

    def __bool__(self) -> bool:
        return self.picture is not None or self.film is not None


@contextmanager
def practice(data: Path, *, wanted: bool) -> Iterator[Practice | None]:
    """Give the practice file of the data folder; none where no world runs."""
    if not wanted:
        yield None
        return
    own_folder(data)
    with Practice(data / NAME) as file:
        yield file


def _window(
    venue: Venue, make_link: MakeLink, parts: tuple[Part, ...], post: str, kept: Kept, *, headless: bool
) -> None:
    """Run the window; pygame is imported only here, so that a world alone needs no display."""
    os.environ.setdefault("PYGAME_HIDE_SUPPORT_PROMPT", "1")
    from sim.view import picture  # noqa: PLC0415 - a world alone needs no pygame

    if headless:
        picture.headless()
    from sim.view.desk import Desk  # noqa: PLC0415 - likewise
    from sim.view.film import Film  # noqa: PLC0415 - likewise
    from sim.view.window import Window  # noqa: PLC0415 - likewise
    from sim.view.wire import Wire  # noqa: PLC0415 - likewise

    desk = Desk(venue, post)
    wire = Wire(make_link, f"post-{desk.post}", desk.subscriptions(), parts)
    if not wire.start():
        wire.stop()
        right = "start `kerblight run`, or give --broker, or by --data the folder of a run"
        raise Unusable(f"no broker answers ({wire.why}): {right}")
    film = Film(kept.film) if kept.film else None
    try:
        window = Window(venue, wire, desk)
        announce("sim")
        window.run(kept.picture, film)
    finally:
        wire.stop()
    if film is not None:
        film.save()
    if wire.failure is not None:
        raise wire.failure
