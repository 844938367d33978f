"""`kerblight sightlines`: where drivers see a head, where none, and where heads should stand."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from signals.cli.options import DEFAULT_VENUE, AsJson, VenueFile, wrong
from signals.cli.output import FELL_SHORT, console, print_json
from signals.venue import load
from sim.sightlines.propose import Proposal, as_toml, propose
from sim.sightlines.stopping import REACTION_S
from sim.sightlines.survey import EYES_M, Survey, View, conditions
from sim.sightlines.telling import plain, tell, tell_proposal, write_table

app = typer.Typer(add_completion=False, rich_markup_mode=None)

LOW_M, HIGH_M = 0.3, 2.0
MOST_HEADS = 60


@app.command(
    epilog="Examples: kerblight sightlines --map seen.svg | kerblight sightlines --propose 11 --map best.png"
)
def sightlines(
    *,
    venue: VenueFile = DEFAULT_VENUE,
    eye: Annotated[
        list[float] | None,
        typer.Option(metavar="M", help="A seated driver's eye above the track; may be given again.",
                     show_default="0.7 and 0.8"),
    ] = None,
    reaction_s: Annotated[
        float, typer.Option(min=0.0, max=5.0, help="From seeing a signal until the brakes bite.")
    ] = REACTION_S,
    traffic: Annotated[
        bool, typer.Option("--traffic", help="Karts drive ahead, as close as drivers follow.")
    ] = False,
    propose_: Annotated[
        int, typer.Option("--propose", min=0, max=MOST_HEADS, metavar="N", help="Say where N heads belong.")
    ] = 0,
    keep: Annotated[
        bool, typer.Option("--keep", help="Propose heads beside those that stand there already.")
    ] = False,
    map_: Annotated[
        list[Path] | None,
        typer.Option("--map", metavar="FILE", help="Draw a map: .svg or .png; may be given again. "
                     "With --propose it shows the proposal."),
    ] = None,
    table: Annotated[
        Path | None, typer.Option(metavar="FILE.csv", help="Write a row for every metre and condition.")
    ] = None,
    as_json: AsJson = False,
) -> None:  # fmt: skip
    """Find where drivers see a signal head ahead, and where none; exit 1 where there are blind stretches.

    From every metre of the lap, on the racing line and along both edges, dry and wet: the nearest head that
    can be seen ahead (view, beam, what stands between), how far off it is, and how far a kart goes until it
    stands.
    """
    maps = map_ or []
    _check(eye or [], maps, keep=keep, number=propose_)
    survey = Survey(load(venue), reaction_s=reaction_s)
    views = [survey.view(each) for each in conditions(eye or EYES_M, traffic=traffic)]
    lowest = min(views, key=lambda view: (view.condition.eye_m, view.condition.wet))
    proposal = propose(survey, propose_, lowest.condition, keep=keep) if propose_ else None
    if table is not None:
        write_table(views, table)
    _draw(survey, lowest, proposal, maps)
    if as_json:
        print_json(plain(survey, views, proposal))
    else:
        tell(console(), survey, views)
        if proposal is not None:
            tell_proposal(console(), proposal, as_toml(proposal.heads))
    if any(view.blind_stretches for view in views):
        raise typer.Exit(FELL_SHORT)


def _check(eyes_m: list[float], maps: list[Path], *, keep: bool, number: int) -> None:
    for eye_m in eyes_m:
        if not LOW_M <= eye_m <= HIGH_M:
            raise wrong("--eye", eye_m, f"a seated eye is {LOW_M:g} to {HIGH_M:g} m above the track")
    for file in maps:
        if file.suffix.lower() not in (".svg", ".png"):
            raise wrong("--map", file, "the file's name ends in .svg or .png")
    if keep and not number:
        raise wrong("--keep", "", "say how many heads to add: --propose N")


def _draw(survey: Survey, view: View, proposal: Proposal | None, maps: list[Path]) -> None:
    if not maps:
        return
    from sim.sightlines.drawing import draw, title_of  # noqa: PLC0415 - brings matplotlib

    shown = view if proposal is None else proposal.proposed
    title = title_of(survey.venue, len(shown.heads), proposed=proposal is not None and not proposal.kept)
    for file in maps:
        draw(survey, shown, file, title)
