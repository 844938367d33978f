"""`kerblight venue import`: a lap from CSV or GeoJSON, made into the centreline of a venue file."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any, get_args

import typer

from signals.cli.options import AsJson, wrong
from signals.cli.output import FELL_SHORT, print_json
from signals.errors import Unusable
from signals.venue.centreline import COLUMNS
from signals.venue.importing.given import Direction, Mended, Wanted


def import_(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A lap: .csv, or .geojson or .json.")],
    out: Annotated[Path, typer.Argument(metavar="OUT.csv", help="The centreline to write.")],
    *,
    step: Annotated[
        float, typer.Option("--step", min=0.5, max=50.0, metavar="M", help="Between two rows, about.")
    ] = 4.0,
    width: Annotated[
        float | None,
        typer.Option("--width", min=1.0, max=50.0, metavar="M", help="The road's, where the file has none."),
    ] = None,
    direction: Annotated[
        str, typer.Option(help="Driven clockwise or anticlockwise.", show_default="as the file has it")
    ] = "",
    start: Annotated[
        float, typer.Option("--start", metavar="M", help="Where along the lap the first row shall lie.")
    ] = 0.0,
    feature: Annotated[
        int | None, typer.Option(min=1, metavar="N", help="Which line of a GeoJSON file that has several.")
    ] = None,
    move: Annotated[bool, typer.Option("--move", help="Move the lap's corner near the origin.")] = False,
    as_json: AsJson = False,
) -> None:
    """Import a lap as a venue file's centreline.

    It is closed, its rows are spaced evenly, and what was repaired is said. CSV has x_m, y_m, right_m,
    left_m (a header may stand in a comment); GeoJSON has degrees. Exit 1 where something is left to look
    at.

    Examples: kerblight venue import lap.csv centreline.csv;
    kerblight venue import lap.geojson centreline.csv --width 8
    """
    asked = next((each for each in get_args(Direction) if each == direction), None)
    if direction and asked is None:
        raise wrong("--direction", direction, f"one of {', '.join(get_args(Direction))}")
    wanted = Wanted(step_m=step, width_m=width, direction=asked, start_m=start, moved=move)
    from signals.venue.importing.mend import mend  # noqa: PLC0415 - brings scipy, which other verbs do without
    from signals.venue.importing.read import read  # noqa: PLC0415 - likewise

    made = mend(read(file, feature), wanted, file.name)
    try:
        out.write_text(as_csv(made), encoding="utf-8")
    except OSError as error:
        raise Unusable(f"{out} cannot be written: {error.strerror}") from None
    if as_json:
        print_json(_plain(made, out))
    else:
        _say(made, out)
    if made.doubts:
        raise typer.Exit(FELL_SHORT)


def as_csv(made: Mended) -> str:
    """Write a lap as a venue file's centreline."""
    rows = (",".join(f"{value:.2f}" for value in row) for row in made.rows)
    return "\n".join([",".join(COLUMNS), *rows, ""])


def _plain(made: Mended, out: Path) -> dict[str, Any]:
    widths = [right + left for _, _, right, left in made.rows]
    return {
        "file": str(out),
        "rows": len(made.rows),
        "length_m": round(made.length_m, 2),
        "direction": made.direction,
        "width_m": [round(min(widths), 2), round(max(widths), 2)],
        "tightest_m": round(made.tightest_m, 2),
        "off_m": round(made.off_m, 3),
        "repaired": made.said,
        "doubts": made.doubts,
    }


def _say(made: Mended, out: Path) -> None:
    facts = _plain(made, out)
    narrow, wide = facts["width_m"]
    typer.echo(
        f"{out}: {facts['rows']} rows, {facts['length_m']:.1f} m around, {made.direction},"
        f" {narrow:.1f} to {wide:.1f} m wide; its tightest bend has {facts['tightest_m']:.1f} m;"
        f" nowhere farther than {facts['off_m']:.2f} m from the points given"
    )
    for sentence in made.said:
        typer.echo(f"  repaired: {sentence}")
    for sentence in made.doubts:
        typer.echo(f"  look: {sentence}")
    typer.echo(f'In the venue file: direction = "{made.direction}", [track] centreline = "{out.name}"')
