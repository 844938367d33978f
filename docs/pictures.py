"""Make `window.png` and `film.gif`: the window while a sequence plays, in virtual time.

    python docs/pictures.py

The same sequence gives the same pictures on any machine, however busy. On a running venue
`kerblight run --sequence FILE --picture PNG --film GIF` makes the like.
"""

from __future__ import annotations

import asyncio
import os
from pathlib import Path

import async_solipsism

os.environ.setdefault("SDL_VIDEODRIVER", "dummy")
os.environ.setdefault("PYGAME_HIDE_SUPPORT_PROMPT", "1")

import pygame

from signals.mqtt.link import Owner
from signals.sequence.load import Sequence, load, venue_id
from signals.sequence.player import Player
from signals.sequence.stage import Stage
from signals.venue import load as load_venue
from signals.venue.model import Venue
from sim.view.desk import Desk
from sim.view.film import Film
from sim.view.hands import Hands
from sim.view.layout import DESIGNED
from sim.view.screen import Screen

DOCS = Path(__file__).parent
CONFIGS = DOCS.parent / "configs"
SEQUENCE = CONFIGS / "sequences" / "spin-in-the-hairpin.toml"
FRAMES_PER_S = 30


async def shoot(venue: Venue, sequence: Sequence) -> None:
    """Play a sequence on a whole venue and look at it through the desk's window until it is over."""
    loop, desk = asyncio.get_running_loop(), Desk(venue)
    hands, surface, film = Hands(desk, lambda *_: False), pygame.Surface(DESIGNED), Film(DOCS / "film.gif")
    screen = Screen(surface, desk, hands)
    async with Stage(venue, seed=sequence.file.start.seed) as stage:
        owner = Owner(
            on_message=lambda arrived: desk.hear(arrived, loop.time()),
            on_up=lambda: desk.linked(up=True),
        )
        link = stage.link(f"post-{desk.post}", subscriptions=desk.subscriptions(), owner=owner)
        hears = asyncio.create_task(link.run())
        plays = asyncio.create_task(Player(sequence, venue, stage.link, processes=stage).run())
        while not plays.done():
            await asyncio.sleep(1 / FRAMES_PER_S)
            desk.tick(loop.time())
            screen.draw(loop.time())
            film.look(surface, loop.time())
        hears.cancel()
        await asyncio.gather(hears, return_exceptions=True)
    result = plays.result()
    if not result.held:
        raise SystemExit(f"{result.title}: fell short, so there are no pictures of it")
    pygame.image.save(surface, DOCS / "window.png")
    film.save()


def main() -> None:
    """Make both."""
    venue = load_venue(CONFIGS / f"{venue_id(SEQUENCE)}.toml")
    with asyncio.Runner(loop_factory=async_solipsism.EventLoop) as runner:
        runner.run(shoot(venue, load(SEQUENCE, venue)))


if __name__ == "__main__":
    main()
