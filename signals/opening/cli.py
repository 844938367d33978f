"""`kerblight opening`: the opening check in a terminal, the cause-and-effect run, and the records."""

from __future__ import annotations

import asyncio
from typing import Annotated

import typer

from signals.cli.data import prepare
from signals.cli.options import (
    DEFAULT_BROKER,
    DEFAULT_DATA,
    DEFAULT_VENUE,
    AsJson,
    BrokerUrl,
    DataDir,
    KeysDir,
    VenueFile,
    wrong,
)
from signals.cli.output import FELL_SHORT, HELD, console, print_json
from signals.opening.records import compare_, list_, search_, show
from signals.opening.running import Asked, Ran, auto, line_of, walk
from signals.venue import load
from signals.venue.model import Venue
from signals.words import Verdict

app = typer.Typer(add_completion=False, rich_markup_mode=None)
app.command("list")(list_)
app.command("show")(show)
app.command("search")(search_)
app.command("compare")(compare_)


@app.callback(invoke_without_command=True)
def opening(
    context: typer.Context,
    *,
    automatic: Annotated[
        bool, typer.Option("--auto", help="Run cause and effect only, and ask nobody.")
    ] = False,
    post: Annotated[
        str | None,
        typer.Option(
            help="The post it is walked from.", metavar="POST", show_default="the first supervisor's"
        ),
    ] = None,
    by: Annotated[
        str | None,
        typer.Option(help="Who walks.", metavar="NAME", show_default="the first person of that post"),
    ] = None,
    eyes: Annotated[bool, typer.Option("--eyes", help="Ask even where sensors see everything.")] = False,
    venue: VenueFile = DEFAULT_VENUE,
    broker: BrokerUrl = DEFAULT_BROKER,
    data: DataDir = DEFAULT_DATA,
    keys: KeysDir = None,
    as_json: AsJson = False,
) -> None:
    """Check before opening: walk the track, and leave with a dated record and a verdict.

    The venue runs, closed and empty. Where no run uses the data folder, --auto starts a simulated venue of
    its own. Exits 0 where it may open or every cause had its effect, 1 where not. A record is no
    certificate; local codes and licensed practice decide.

    Examples: kerblight opening --by "Mika Sandbrook"; kerblight opening --auto
    """
    if context.invoked_subcommand is not None:
        return
    known = load(venue)
    asked = Asked(known, _post(known, post), broker, prepare(data), keys)
    say = console(stderr=True)
    if automatic:
        raise typer.Exit(_tell(asyncio.run(auto(asked, say, quiet=as_json)), as_json=as_json))
    name = by or _known_name(known, asked.post)
    walking = Asked(known, asked.post, broker, asked.data, keys, name, eyes)
    came = asyncio.run(walk(walking, say))
    if as_json:
        print_json(came)
    elif came.record:
        console().print(f"Record {came.record}\nTo print {came.printed}", markup=False, soft_wrap=True)
    raise typer.Exit(HELD if came.verdict in (Verdict.OPEN, Verdict.OPEN_RESTRICTED) else FELL_SHORT)


def _post(venue: Venue, asked: str | None) -> str:
    posts = {post.id: post for post in venue.posts}
    if asked is None:
        return next(post.id for post in venue.posts if post.supervisor)
    if asked not in posts:
        raise wrong("--post", asked, f"one of {', '.join(posts)}")
    return asked


def _known_name(venue: Venue, post: str) -> str:
    """Give the first person who may stand at the post: a name that can be changed when signing."""
    names = [person.name for person in venue.persons if post in person.posts]
    if not names:
        raise wrong("--by", "", "say who walks: --by NAME")
    return names[0]


def _tell(ran: Ran, *, as_json: bool) -> int:
    if as_json:
        print_json(ran)
        return HELD if ran.held else FELL_SHORT
    out = console()
    for cause in ran.causes:
        if cause.outcome != "passed":
            out.print(line_of(cause), markup=False, soft_wrap=True)
    for slow in ran.slow:
        line = f"slow: {slow.head} after {slow.cause}: {slow.ms} ms, at most {slow.within_ms} ms"
        out.print(line, markup=False)
    passed = sum(cause.outcome == "passed" for cause in ran.causes)
    out.print(f"{passed} of {len(ran.causes)} causes as due, {ran.cells} cells, {ran.seconds:g} s")
    out.print(
        f"Kept in {ran.kept} for the walk to sign; each cause, to play again: {ran.sequences}", soft_wrap=True
    )
    return HELD if ran.held else FELL_SHORT
