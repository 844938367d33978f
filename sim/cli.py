"""`kerblight sim`: the simulated world, and the desk's window on it."""

from __future__ import annotations

import logging
import os
import sys
from pathlib import Path
from typing import Annotated

import typer

from signals.cli.links import links
from signals.cli.options import DEFAULT_BROKER, DEFAULT_DATA, DEFAULT_VENUE, BrokerUrl, DataDir, VenueFile
from signals.cli.process import announce, run_part
from signals.clock import Clock
from signals.errors import BadInput, Finding, Unusable
from signals.part import MakeLink
from signals.venue import load
from signals.venue.model import Venue
from sim.world import World

app = typer.Typer(add_completion=False, rich_markup_mode=None)


@app.command()
def sim(
    *,
    venue: VenueFile = DEFAULT_VENUE,
    broker: BrokerUrl = DEFAULT_BROKER,
    data: DataDir = DEFAULT_DATA,
    seed: Annotated[int, typer.Option(min=0, help="Everything random follows from it.")] = 1,
    headless: Annotated[bool, typer.Option("--headless", help="The world alone, without a window.")] = False,
    no_world: Annotated[
        bool, typer.Option("--no-world", help="The window alone: the world runs elsewhere.")
    ] = False,
    post: Annotated[
        str, typer.Option(help="Whose window it is.", show_default="the first supervisor's")
    ] = "",
    picture: Annotated[Path | None, typer.Option(help="Keep a picture of the window at the end.")] = None,
) -> None:
    """Run the simulated world and its window until the window is closed."""
    loaded = load(venue)
    known = ", ".join(each.id for each in loaded.posts)
    if post and post not in {each.id for each in loaded.posts}:
        raise BadInput(
            [Finding("command line", 0, "--post", repr(post), f"one of the venue's posts: {known}")]
        )
    if headless and no_world:
        right = "give only one of --headless and --no-world: together they leave nothing to run"
        raise BadInput([Finding("command line", 0, "--no-world", "", right)])
    make_link = links(broker, data)
    world = None if no_world else World(loaded, make_link, seed=seed, clock=Clock())
    if headless and picture is None and world is not None:
        run_part("sim", world)
        return
    _window(loaded, make_link, world, post, picture, headless=headless)


def _window(
    venue: Venue, make_link: MakeLink, world: World | None, post: str, to: Path | None, *, headless: bool
) -> None:
    """Run the window; pygame is imported only here, so that a world alone needs no display."""
    os.environ.setdefault("PYGAME_HIDE_SUPPORT_PROMPT", "1")
    from sim.view import picture  # noqa: PLC0415 - a world alone needs no pygame

    logging.basicConfig(stream=sys.stderr, level=logging.INFO, format="%(asctime)s %(name)s: %(message)s")
    if headless:
        picture.headless()
    from sim.view.desk import Desk  # noqa: PLC0415 - likewise
    from sim.view.window import Window  # noqa: PLC0415 - likewise
    from sim.view.wire import Wire  # noqa: PLC0415 - likewise

    desk = Desk(venue, post)
    parts = () if world is None else (world,)
    wire = Wire(make_link, f"post-{desk.post}", desk.subscriptions(), parts)
    if not wire.start():
        wire.stop()
        raise Unusable(f"no broker answers: {wire.failure or 'not connected in time'}; see --broker")
    try:
        window = Window(venue, wire, desk)
        announce("sim")
        window.run(to)
    finally:
        wire.stop()
    if wire.failure is not None:
        raise wire.failure
