"""Read a lap from a file, by its kind."""

from __future__ import annotations

from pathlib import Path

from signals.errors import BadInput
from signals.venue.draft import read_text
from signals.venue.importing.geojson import read_geojson
from signals.venue.importing.given import Given, Mistakes
from signals.venue.importing.tables import read_table

GEOJSON = (".geojson", ".json")


def read(file: Path, feature: int | None = None) -> Given:
    """Read a lap.

    Args:
        file: GeoJSON where its name ends so, a table otherwise.
        feature: which line of a GeoJSON file, counted from 1; the only one where not given.

    Raises:
        BadInput: with every mistake of the file.

    """
    mistakes = Mistakes(file.name)
    given = Given()
    try:
        text = read_text(file)
    except ValueError as error:
        mistakes.say(0, "file", "", str(error))
    else:
        is_geojson = file.suffix.lower() in GEOJSON
        given = read_geojson(text, mistakes, feature) if is_geojson else read_table(text, mistakes)
    if mistakes.findings:
        raise BadInput(mistakes.findings)
    return given
