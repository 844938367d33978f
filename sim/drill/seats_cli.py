"""The verbs of several seats: host a drill, join it from a post, let something happen in it."""

from __future__ import annotations

import asyncio
import os
import signal
import time
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer
from rich.console import Console

from signals.cli.links import links
from signals.cli.options import (
    DEFAULT_BROKER,
    DEFAULT_DATA,
    DEFAULT_VENUE,
    AsJson,
    BrokerUrl,
    DataDir,
    VenueFile,
    wrong,
)
from signals.cli.output import FELL_SHORT, HELD, console, print_json
from signals.errors import Unusable
from signals.mqtt.contract import Inject
from signals.sequence.events import KINDS, addressee
from signals.sequence.observer import Observer
from signals.venue import load as load_venue
from signals.venue.model import Venue
from sim.drill import due, held, telling, throwing
from sim.drill.cast import cast
from sim.drill.host import host as host_drill
from sim.drill.load import Drill, find, load
from sim.drill.score import Score
from sim.drill.trainees import NAME, Trainees

if TYPE_CHECKING:
    from sim.view.window import Window
    from sim.view.wire import Wire

CONNECT_WITHIN_S = 5.0
KNOWN = ", ".join(sorted(name for name, kind in KINDS.items() if kind.addressee in ("world", "node")))


def host(
    name: Annotated[str, typer.Argument(help="A drill's name, or its file.")],
    *,
    seat: Annotated[list[str], typer.Option(metavar="POST=NAME", help="Who sits where; repeat it.")],
    seed: Annotated[int, typer.Option(min=0, help="What happens when, where and to whom.")] = 0,
    wait: Annotated[float, typer.Option(min=0, metavar="S", help="How long others have to join.")] = 20.0,
    venue: VenueFile = DEFAULT_VENUE,
    data: DataDir = DEFAULT_DATA,
    as_json: AsJson = False,
) -> None:
    """Host a drill for several seats on a broker of its own.

    Each is scored for its own sectors.

    Others join with the same data folder: `kerblight drill join --post p1`; an instructor watches, and lets
    things happen, with `kerblight drill instruct` or `kerblight drill inject spin --kart 3`. Ctrl-C ends it
    early: what was done so far is scored.

    Example: kerblight drill host two-at-once --seat p1=Ada --seat p2=Ben --data var/class
    """
    here = load_venue(venue)
    drill = load(find(name), here)
    seats = _seats(seat, drill)
    drawn = cast(drill, here, seed, tuple(seats))
    out = console(stderr=as_json)
    early = Early()
    hosting = host_drill(
        drawn, here, seats, data, wait_s=wait, tell=out.print, began=early.listen, ends=early.is_over
    )
    tape, scores = held.run(hosting, held.HeldClock(), held.READING_S)
    now_ms = round(time.time() * 1000)
    kept = data / "drills" / f"{drill.name}-{seed}-{now_ms}.tape"
    tape.save(kept)
    for found in scores:
        _remember(data, found, now_ms)
    if as_json:
        print_json(scores)
    else:
        _tell(scores, here, kept, out)
    raise typer.Exit(HELD if all(found.passed for found in scores) else FELL_SHORT)


class Early:
    """Whether a drill is to end before its time: by the first Ctrl-C while it runs.

    Any other one interrupts, as it always does.
    """

    def __init__(self) -> None:
        self._over = False

    def listen(self) -> None:
        """Wait for Ctrl-C from now on."""
        before = signal.getsignal(signal.SIGINT)

        def end(*_: object) -> None:
            self._over = True
            signal.signal(signal.SIGINT, before)

        signal.signal(signal.SIGINT, end)

    def is_over(self) -> bool:
        """Whether Ctrl-C came."""
        return self._over


def _tell(scores: Sequence[Score], venue: Venue, kept: Path, out: Console) -> None:
    """Print every seat's score, under whose it is."""
    posts = {post.id: post.name for post in venue.posts}
    for found in scores:
        out.rule(f"{found.who or 'Nobody named'}, {posts[found.seat]}", style="dim", align="left")
        telling.summary(found, out)
    out.rule(style="dim")
    out.print(f"A debrief for each: kerblight drill report {kept} debrief.html", soft_wrap=True)


def _seats(asked: list[str], drill: Drill) -> dict[str, str]:
    seats: dict[str, str] = {}
    for each in asked:
        post, _, who = each.partition("=")
        if post not in drill.file.seats or post in seats:
            raise wrong("--seat", each, f"POST=NAME, each post once, of {', '.join(drill.file.seats)}")
        seats[post] = " ".join(who.split())
    return seats


def _remember(data: Path, found: Score, now_ms: int) -> None:
    if found.who:
        with Trainees(data / NAME) as trainees:
            trainees.add(found.who, found, now_ms)
            due.review(trainees, found.who, found, now_ms)


def join(
    *,
    post: Annotated[str, typer.Option(help="Whose seat.")],
    venue: VenueFile = DEFAULT_VENUE,
    broker: BrokerUrl = DEFAULT_BROKER,
    data: DataDir = DEFAULT_DATA,
) -> None:
    """Join a hosted drill at a post.

    Its window shows only what can be seen from there.

    Example: kerblight drill join --post p1 --data var/class
    """
    here = load_venue(venue)
    if post not in {each.id for each in here.posts}:
        raise wrong("--post", post, f"one of {', '.join(each.id for each in here.posts)}")
    os.environ.setdefault("PYGAME_HIDE_SUPPORT_PROMPT", "1")
    from sim.view.drill.joined import PostDesk, PostWindow  # noqa: PLC0415 - without a window no pygame
    from sim.view.wire import Wire  # noqa: PLC0415 - likewise

    desk = PostDesk(here, post)
    wire = Wire(links(broker, data), f"post-{post}", desk.subscriptions())
    _show(PostWindow(here, wire, desk), wire)


def instruct(
    *, venue: VenueFile = DEFAULT_VENUE, broker: BrokerUrl = DEFAULT_BROKER, data: DataDir = DEFAULT_DATA
) -> None:
    """Open the instructor's window on a hosted drill.

    It shows the whole track, and every seat's calls.

    F4 lets something happen there.

    Example: kerblight drill instruct --data var/class
    """
    here = load_venue(venue)
    os.environ.setdefault("PYGAME_HIDE_SUPPORT_PROMPT", "1")
    from sim.view.desk import Desk  # noqa: PLC0415 - without a window no pygame
    from sim.view.drill.teaching import InstructorWindow, Throwing  # noqa: PLC0415 - likewise
    from sim.view.wire import Wire  # noqa: PLC0415 - likewise

    desk, make_link = Desk(here), links(broker, data)
    throwing_in = Throwing(here, make_link)
    wire = Wire(make_link, f"post-{desk.post}.instructor", desk.subscriptions(), (throwing_in,))
    _show(InstructorWindow(here, wire, desk, throwing_in), wire)


def _show(window: Window, wire: Wire) -> None:
    """Show a window on a hosted drill until it is closed."""
    if not wire.start():
        wire.stop()
        raise Unusable("no broker answers; is `kerblight drill host` up, and --data its folder?")
    try:
        window.run()
    finally:
        wire.stop()


def inject(
    event: Annotated[str, typer.Argument(help="What happens, as in a sequence.")],
    *,
    kart: Annotated[int | None, typer.Option(help="To which kart.")] = None,
    where: Annotated[str | None, typer.Option(help="In which sector.")] = None,
    head: Annotated[str | None, typer.Option(help="To which head.")] = None,
    wired: Annotated[str | None, typer.Option("--input", help="At which wired input.")] = None,
    for_s: Annotated[float | None, typer.Option("--for", min=0, metavar="S", help="For how long.")] = None,
    venue: VenueFile = DEFAULT_VENUE,
    broker: BrokerUrl = DEFAULT_BROKER,
    data: DataDir = DEFAULT_DATA,
) -> None:
    """Let something happen now on a simulated track that runs.

    Exits 1 where it could not be.

    Example: kerblight drill inject debris --where s3 --data var/class
    """
    here = load_venue(venue)
    kind = KINDS.get(event)
    if kind is None or kind.addressee not in ("world", "node"):
        raise wrong("EVENT", event, f"one of {KNOWN}")
    given = {"kart": kart, "head": head, "where": where, "input": wired}
    for missing in sorted(kind.needs - {name for name, value in given.items() if value is not None}):
        raise wrong(f"--{missing}", "", f"is missing; {event} needs it")
    to = addressee(kind, here, head=head, kart=kart, wired=wired)
    asked = throwing.event(event, kart=kart, head=head, where=where, wired=wired, for_s=for_s)
    done, said = asyncio.run(_inject(here, to, asked, broker, data))
    console().print(f"{'✓' if done else '✗'} {said}")
    raise typer.Exit(HELD if done else FELL_SHORT)


async def _inject(venue: Venue, to: str, asked: Inject, broker: str, data: Path) -> tuple[bool, str]:
    observer = Observer(venue, links(broker, data), client=f"instructor.inject-{os.getpid()}")
    running = asyncio.create_task(observer.run())
    try:
        await asyncio.wait_for(observer.connected(), CONNECT_WITHIN_S)
        answer = await observer.inject(to, asked)
    except TimeoutError:
        raise Unusable("no broker answers; is `kerblight drill host` or `kerblight run` up?") from None
    finally:
        running.cancel()
        await asyncio.gather(running, return_exceptions=True)
    if answer is None:
        return False, throwing.TO_NOBODY.format(to=to)
    return answer.done, answer.said
