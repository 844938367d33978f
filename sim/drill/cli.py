"""`kerblight drill`: practise a situation, in a window or from a recorded set of calls, and be scored."""

from __future__ import annotations

import os
import time
from pathlib import Path
from typing import Annotated, Any

import typer
from msgspec import Struct
from typer.core import TyperGroup

from signals.cli.options import DEFAULT_DATA, DEFAULT_VENUE, AsJson, DataDir, VenueFile, wrong
from signals.cli.output import FELL_SHORT, HELD, console, print_json
from signals.errors import BadInput
from signals.venue import load as load_venue
from signals.venue.model import Venue
from sim.drill import deeds, due, paper, quiz_cli, report, seats_cli, telling, trainees_cli
from sim.drill import tape as tapes
from sim.drill.cast import cast
from sim.drill.facts import facts
from sim.drill.load import Drill, find, load, shipped
from sim.drill.model import Marshal
from sim.drill.play import play as play_drill
from sim.drill.score import Score
from sim.drill.scoring import score
from sim.drill.seat import Answerer, Nobody, Recorded
from sim.drill.trainees import NAME, Run, Trainees
from sim.drill.trainees_cli import Who, named


class NameFirst(TyperGroup):
    """`drill NAME …` plays a drill; `drill list` and its like are commands of their own."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """Take what is no command for the name of a drill."""
        if not args or (args[0] not in self.commands and args[0] != "--help"):
            args = ["play", *args]
        return super().parse_args(ctx, args)


app = typer.Typer(cls=NameFirst, add_completion=False, rich_markup_mode=None)


@app.callback()
def _about() -> None:
    """Practise a situation on the simulated track, and be scored.

    `kerblight drill NAME` plays a drill. No drill replaces training at the real track; the venue's own
    procedures win over what is practised.
    """


class Listed(Struct, frozen=True):
    """One drill, as it is listed; `best` and `why` are somebody's own."""

    name: str
    title: str
    topic: str
    level: int
    trains: str
    seats: tuple[str, ...]
    lasts_s: float
    best: float | None = None
    why: str = ""


@app.command()
def play(
    name: Annotated[str, typer.Argument(help="A drill's name, or its file.")] = "",
    *,
    seed: Annotated[
        int | None,
        typer.Option(min=0, help="What happens when, where and to whom.", show_default="0; at a window, new"),
    ] = None,
    who: Who = "",
    seat: Annotated[
        str, typer.Option("--seat", metavar="POST", help="Where from.", show_default="the drill's first")
    ] = "",
    headless: Annotated[
        bool, typer.Option("--headless", help="No window: in virtual time, in a few seconds.")
    ] = False,
    recorded: Annotated[
        Path | None, typer.Option("--with", metavar="FILE", help="Without a window: what was done, recorded.")
    ] = None,
    model: Annotated[
        bool, typer.Option("--model", help="Without a window: let the model answer play.")
    ] = False,
    keep: Annotated[
        Path | None,
        typer.Option("--tape", metavar="FILE", help="Without a window: keep the tape, for `report`."),
    ] = None,
    pictures: Annotated[
        Path | None, typer.Option(help="Keep a picture of every page of the window in this folder.")
    ] = None,
    venue: VenueFile = DEFAULT_VENUE,
    data: DataDir = DEFAULT_DATA,
    as_json: AsJson = False,
) -> None:
    """Play a drill and show its score.

    Exits 1 where it was not passed.

    Examples: kerblight drill spin-rejoins --as tester;
    kerblight drill spin-rejoins --seed 7 --as tester --headless --with calls.toml
    """
    here = load_venue(venue)
    if not headless:
        if recorded is not None or model:
            raise wrong("--with" if recorded else "--model", "", "needs --headless: at a window you answer")
        _window(here, name, seat, named(who), seed, data, pictures)
        raise typer.Exit(HELD)
    if not name:
        raise wrong("NAME", "", "is missing; `kerblight drill list` names the drills")
    drill = load(find(name), here)
    chosen = _seat(drill, seat)
    answerer = _answerer(recorded, model=model)
    result = run_headless(drill, here, seed or 0, chosen, named(who), answerer, keep)
    if who:
        remember(data, named(who), result)
    if as_json:
        print_json(result)
    else:
        telling.summary(result, console())
    raise typer.Exit(HELD if result.passed else FELL_SHORT)


def _window(
    venue: Venue, name: str, seat: str, who: str, seed: int | None, data: Path, pictures: Path | None
) -> None:
    """Open the window: at the list, or at a drill's briefing. pygame is imported only here."""
    os.environ.setdefault("PYGAME_HIDE_SUPPORT_PROMPT", "1")
    from sim.view.drill.flow import GUEST, Flow, Page  # noqa: PLC0415 - without a window no pygame
    from sim.view.drill.window import DrillWindow  # noqa: PLC0415 - likewise

    flow = Flow(venue, [load(path, venue) for path in shipped()], data, who or GUEST, seed)
    if name:
        drill = load(find(name), venue)
        flow.take(drill, _seat(drill, seat))
        flow.page = Page.BRIEFING
    DrillWindow(flow, pictures).run()


def _answerer(recorded: Path | None, *, model: bool) -> Answerer:
    if recorded is not None and model:
        raise wrong("--model", "", "does not go with --with: only one can answer")
    if recorded is not None:
        return Recorded(deeds.load(recorded))
    return Marshal() if model else Nobody()


def run_headless(
    drill: Drill, venue: Venue, seed: int, seat: str, who: str, answerer: Answerer, keep: Path | None = None
) -> Score:
    """Play a drill in virtual time, and keep its tape where asked; gives its score."""
    drawn = cast(drill, venue, seed, [seat])
    tape = play_drill(drawn, venue, {seat: answerer}, who=[who])
    if keep is not None:
        tape.save(keep)
    return score(tape, drawn, venue, seat)


def remember(data: Path, who: str, result: Score) -> None:
    """Keep a run, and when the drill is due again."""
    now_ms = round(time.time() * 1000)
    with Trainees(data / NAME) as trainees:
        trainees.add(who, result, now_ms)
        due.review(trainees, who, result, now_ms)


def _seat(drill: Drill, asked: str) -> str:
    if asked and asked not in drill.file.seats:
        raise wrong("--seat", asked, f"one of {', '.join(drill.file.seats)} for {drill.name}")
    return asked or drill.file.seats[0]


@app.command("list")
def list_(
    *, who: Who = "", venue: VenueFile = DEFAULT_VENUE, data: DataDir = DEFAULT_DATA, as_json: AsJson = False
) -> None:
    """List the drills, with what each trains.

    With --as in the order to practise, with the best mark so far.

    Examples: kerblight drill list; kerblight drill list --as Ada --json
    """
    here = load_venue(venue)
    drills = [load(path, here) for path in shipped()]
    found = _for(named(who), drills, data) if who else [_listed(drill) for drill in drills]
    if as_json:
        print_json(found)
        return
    out = console()
    for each in found:
        own = "" if not who else f"{_best(each.best):>6}  {each.why:10}  "
        out.print(f"{each.name:18} {each.level}  {own}{each.trains}", soft_wrap=True)


def _best(best: float | None) -> str:
    return "–" if best is None else f"{best:g} %"


def _for(who: str, drills: list[Drill], data: Path) -> list[Listed]:
    named = {drill.name: drill for drill in drills}
    with Trainees(data / NAME) as trainees:
        best = trainees.best(who)
        order = due.propose(trainees, who, drills, round(time.time() * 1000))
    return [_listed(named[each.drill], best.get(each.drill), each.why) for each in order]


def _listed(drill: Drill, best: float | None = None, why: str = "") -> Listed:
    file = drill.file
    return Listed(
        drill.name, file.title, file.topic, file.level, file.trains, file.seats, file.lasts_s, best, why
    )


@app.command("report")
def report_(
    tape: Annotated[Path, typer.Argument(help="A kept tape: drills/*.tape in the data folder.")],
    file: Annotated[Path, typer.Argument(help="The page to write, ending in .html.")],
    *,
    venue: VenueFile = DEFAULT_VENUE,
    data: DataDir = DEFAULT_DATA,
) -> None:
    """Write the debrief of a drill that was played.

    One page, to read or to print.

    With several seats, a page for each. Example: kerblight drill report var/drills/X.tape debrief.html
    """
    here = load_venue(venue)
    try:
        played = tapes.read(tape)
    except OSError as error:
        raise wrong("TAPE", tape, f"cannot be read: {error.strerror or error}") from None
    except ValueError as error:
        raise wrong("TAPE", tape, f"cannot be read: {error}") from None
    drawn = cast(load(find(played.head.drill), here), here, played.head.seed, tuple(played.head.seats))
    known = facts(played, here)
    for seat, name in played.head.seats.items():
        found = score(played, drawn, here, seat, known)
        before = _before(data, name, played.head.began_ms)
        to = file if len(played.head.seats) == 1 else file.with_stem(f"{file.stem}-{seat}")
        paper.write(to, report.report(found, drawn, known, before))
        console().print(f"✓ {to}")


def _before(data: Path, name: str, at_ms: int) -> list[Run]:
    if not name or not (data / NAME).exists():
        return []
    with Trainees(data / NAME) as known:
        return [run for run in known.runs(name) if run.at_ms <= at_ms]


@app.command()
def check(
    files: Annotated[list[Path], typer.Argument(help="Drill files.", metavar="FILE...")],
    *,
    venue: VenueFile = DEFAULT_VENUE,
    as_json: AsJson = False,
) -> None:
    """Load drill files and name every mistake in them.

    Example: kerblight drill check my-drill.toml
    """
    here = load_venue(venue)
    findings, titles = [], {}
    for file in files:
        try:
            titles[str(file)] = load(file, here).file.title
        except BadInput as mistaken:
            findings += mistaken.findings
    if findings:
        raise BadInput(findings)
    if as_json:
        print_json(titles)
    else:
        console().print("\n".join(f"✓ {file}: {title}" for file, title in titles.items()))


app.command()(seats_cli.host)
app.command()(seats_cli.join)
app.command()(seats_cli.instruct)
app.command()(seats_cli.inject)
app.command("quiz")(quiz_cli.quiz_)
app.command("progress")(trainees_cli.progress_)
app.command()(trainees_cli.trainees)
app.command()(trainees_cli.export)
app.command()(trainees_cli.forget)
