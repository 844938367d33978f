"""A lap as GeoJSON (RFC 7946): degrees of longitude and latitude, made into metres on a plane.

The plane touches the ellipsoid of WGS 84 in the middle of the lap, with the radii of curvature there:

    x = N cos φ₀ (λ − λ₀)    y = M (φ − φ₀)

Over a kilometre it is right to a few millimetres.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from typing import Any

from signals.venue.importing.given import Given, Mistakes

MAJOR_M, FLATTENING = 6_378_137.0, 1 / 298.257_223_563
"""WGS 84: the ellipsoid's semi-major axis and flattening (NGA.STND.0036)."""
LONGITUDE, LATITUDE = 180.0, 90.0
XY = 2


def read_geojson(text: str, mistakes: Mistakes, feature: int | None) -> Given:
    """Read the one lap of a file, or the feature that is asked for (counted from 1)."""
    try:
        whole = json.loads(text)
    except json.JSONDecodeError as error:
        mistakes.say(error.lineno, "file", "", f"is no JSON: {error.msg}")
        return Given()
    laps = list(_laps(whole, {}))
    if feature is not None:
        laps = laps[feature - 1 : feature] if 0 < feature <= len(laps) else []
    if len(laps) != 1:
        found = f"{len(laps)} lines" if feature is None else f"no line {feature}"
        mistakes.say(0, "features", found, "needs one LineString or Polygon; choose one with --feature N")
        return Given()
    return _given(*laps[0], mistakes)


def _laps(node: Any, properties: dict[str, Any]) -> Iterator[tuple[list[Any], dict[str, Any], str]]:
    """Give every line of a GeoJSON object: coordinates, properties, and its type."""
    if not isinstance(node, dict):
        return
    match node.get("type"):
        case "FeatureCollection":
            for each in node.get("features") or ():
                yield from _laps(each, {})
        case "Feature":
            yield from _laps(node.get("geometry"), node.get("properties") or {})
        case "GeometryCollection":
            for each in node.get("geometries") or ():
                yield from _laps(each, properties)
        case "LineString":
            yield node.get("coordinates") or [], properties, "LineString"
        case "MultiLineString":
            for each in node.get("coordinates") or ():
                yield each, properties, "LineString"
        case "Polygon":
            for each in (node.get("coordinates") or ())[:1]:
                yield each, properties, "Polygon"


def _given(coordinates: list[Any], properties: dict[str, Any], kind: str, mistakes: Mistakes) -> Given:
    degrees = [_degrees(number, each, mistakes) for number, each in enumerate(coordinates, 1)]
    places = [each for each in degrees if each is not None]
    if len(places) < len(degrees) or not places:
        if not coordinates:
            mistakes.say(0, "coordinates", "", "needs positions [longitude, latitude]")
        return Given()
    middle = tuple((min(axis) + max(axis)) / 2 for axis in zip(*places, strict=True))
    given = Given(points=[metres(place, (middle[0], middle[1])) for place in places])
    given.said.append(f"degrees made metres around {middle[0]:.6f}, {middle[1]:.6f} (WGS 84)")
    if kind == "Polygon":
        given.said.append("a polygon's outer ring is taken as the middle of the road")
    reach = _reach(properties, mistakes)
    given.reaches = [reach] * len(places) if reach else []
    return given


def _degrees(number: int, position: Any, mistakes: Mistakes) -> tuple[float, float] | None:
    if (
        isinstance(position, list)
        and len(position) >= XY
        and all(isinstance(each, int | float) and math.isfinite(each) for each in position[:XY])
        and abs(position[0]) <= LONGITUDE
        and abs(position[1]) <= LATITUDE
    ):
        return float(position[0]), float(position[1])
    right = "must be [longitude, latitude] in degrees, within 180 and 90"
    mistakes.say(0, f"coordinates[{number}]", position, right)
    return None


def metres(place: tuple[float, float], middle: tuple[float, float]) -> tuple[float, float]:
    """Give metres east and north of a middle; both places are longitude and latitude in degrees."""
    eccentric = FLATTENING * (2.0 - FLATTENING)
    sine = math.sin(math.radians(middle[1]))
    thin = 1.0 - eccentric * sine * sine
    normal_m = MAJOR_M / math.sqrt(thin)
    meridian_m = normal_m * (1.0 - eccentric) / thin
    east = math.radians(place[0] - middle[0]) * normal_m * math.cos(math.radians(middle[1]))
    return east, math.radians(place[1] - middle[1]) * meridian_m


def _reach(properties: dict[str, Any], mistakes: Mistakes) -> tuple[float, float] | None:
    """Read the road's width from a feature's properties: right_m and left_m, or width_m."""
    named = {name: properties[name] for name in ("right_m", "left_m", "width_m") if name in properties}
    for name, value in named.items():
        if not isinstance(value, int | float) or not value > 0:
            mistakes.say(0, f"properties.{name}", value, "must be metres above 0")
            return None
    if "right_m" in named and "left_m" in named:
        return float(named["right_m"]), float(named["left_m"])
    return (named["width_m"] / 2, named["width_m"] / 2) if "width_m" in named else None
