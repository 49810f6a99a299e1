"""The outline of a lawn in GeoJSON (RFC 7946), measured on the WGS84 ellipsoid.

A file from elsewhere may hold anything: its size, its corners and its extent are bounded before any of it is measured,
and every ring is looked at on whole numbers. The geodesic library works with binary floats; what it says is written
down as text, rounded to a tenth of a square foot, and nothing beyond this module sees a float.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal
from fractions import Fraction
from typing import Any, NoReturn

from records.domain import rings
from records.domain.figures import Figure
from records.domain.quantities import decimal_text, parse_area
from records.errors import InputError
from records.units import factor

MAX_BYTES = 1_000_000
MAX_CORNERS = 1_000
MAX_RINGS = 60
SCALE = 9  # decimals of a degree that corners are compared at: a tenth of a millimetre
PLACES = 1  # decimals of a square foot that are kept
_WIDEST = 10**SCALE // 10  # a tenth of a degree, some seven miles
_WHAT = "a GeoJSON outline is a Polygon or a MultiPolygon, alone or as one Feature"
_US = ((-180, -64), (144, 180)), (-15, 72)  # longitudes, latitudes of the states and territories

Ring = list[rings.Corner]


@dataclass(frozen=True, slots=True)
class Part:
    """One polygon of an outline: its outer ring and what is cut out of it."""

    outer: Ring
    holes: tuple[Ring, ...]


def read_outline(data: bytes, name: str = "the outline") -> Figure:
    """Return an outline as a figure with its area.

    Args:
        data: the content of the file.
        name: of the file, for messages.

    Raises:
        InputError: it is no outline of a lawn; the message says what is wrong.
    """
    if len(data) > MAX_BYTES:
        raise InputError(f"{name} is larger than {MAX_BYTES:,} bytes", "Export the outline of one lawn alone")
    parts = [_part(polygon, name) for polygon in _polygons(_document(data, name), name)]
    _look_over(parts, name)
    corners = sum(len(ring) for part in parts for ring in (part.outer, *part.holes))
    return Figure("outline", (), given=parse_area(f"{_square_feet(parts, name)} sq ft"), corners=corners)


def _refuse(name: str, what: str, hint: str = _WHAT) -> NoReturn:
    raise InputError(f"{name} {what}", hint)


def _no_number(text: str) -> NoReturn:
    msg = f"{text} is no number"
    raise ValueError(msg)


def _document(data: bytes, name: str) -> Any:  # noqa: ANN401 - whatever the file holds
    try:
        return json.loads(data.decode("utf-8-sig"), parse_float=Decimal, parse_constant=_no_number)
    except UnicodeDecodeError:
        _refuse(name, "is not UTF-8 text")
    except (ValueError, ArithmeticError, RecursionError, MemoryError):
        _refuse(name, "is not JSON that can be read")


def _polygons(content: Any, name: str) -> list[Any]:  # noqa: ANN401 - whatever the file holds
    """Return the coordinates of the polygons of a document."""
    for wrapper, key in (("FeatureCollection", "features"), ("Feature", "geometry")):
        if not isinstance(content, dict):
            _refuse(name, "holds no GeoJSON object")
        if "crs" in content and "CRS84" not in str(content["crs"])[:200]:
            _refuse(name, "is in another reference system", "GeoJSON has longitude and latitude (WGS84); export it so")
        if content.get("type") == wrapper:
            content = content.get(key)
            if wrapper == "FeatureCollection":
                if not isinstance(content, list) or len(content) != 1:
                    count = len(content) if isinstance(content, list) else 0
                    _refuse(name, f"holds {count:,} features", "Keep the one outline of the zone, each in its own file")
                content = content[0]
    kind = content.get("type") if isinstance(content, dict) else None
    found = content.get("coordinates") if isinstance(content, dict) else None
    if kind == "Polygon":
        return [found]
    if kind == "MultiPolygon" and isinstance(found, list) and found:
        return found
    told = "".join(c if c.isprintable() else "?" for c in str(kind)[:30]) if isinstance(kind, str) else "nothing"
    _refuse(name, f"holds {told}, which has no area")


def _part(polygon: Any, name: str) -> Part:  # noqa: ANN401 - whatever the file holds
    if not isinstance(polygon, list) or not polygon:
        _refuse(name, "has a polygon without a ring")
    if len(polygon) > MAX_RINGS:
        _refuse(name, f"has {len(polygon):,} rings; {MAX_RINGS} are read", "Leave small holes out, or split the zone")
    outer, *holes = (_ring(ring, name) for ring in polygon)
    return Part(outer, tuple(holes))


def _ring(ring: Any, name: str) -> Ring:  # noqa: ANN401 - whatever the file holds
    if not isinstance(ring, list) or len(ring) < 4:
        _refuse(name, "has a ring of fewer than four positions", "A ring begins and ends at the same corner")
    if len(ring) > MAX_CORNERS + 1:
        _refuse(name, f"has a ring of {len(ring):,} positions; {MAX_CORNERS:,} are read", "Simplify the outline")
    corners = [_corner(position, name) for position in ring]
    if corners[0] != corners[-1]:
        _refuse(name, "has a ring that is not closed", "A ring begins and ends at the same corner")
    found = [corner for index, corner in enumerate(corners[1:]) if corner != corners[index]]
    if len(set(found)) < 3:
        _refuse(name, "has a ring without ground in it", "A ring has three corners or more")
    return found


def _corner(position: Any, name: str) -> rings.Corner:  # noqa: ANN401 - whatever the file holds
    is_pair = isinstance(position, list) and 2 <= len(position) <= 4
    values = position[:2] if is_pair else []
    if not is_pair or any(isinstance(one, bool) or not isinstance(one, int | Decimal) for one in values):
        _refuse(name, "has a position that is not longitude and latitude", "Each position is [longitude, latitude]")
    longitude, latitude = values
    if not _is_here(longitude, latitude):
        if _is_here(latitude, longitude):
            _refuse(name, "has latitude before longitude", "GeoJSON writes [longitude, latitude]; swap them")
        _refuse(name, "has a corner outside the United States", "Each position is [longitude, latitude] in degrees")
    return _whole(longitude), _whole(latitude)


def _is_here(longitude: int | Decimal, latitude: int | Decimal) -> bool:
    longitudes, (south, north) = _US
    return any(west <= longitude <= east for west, east in longitudes) and south <= latitude <= north


def _whole(degrees: int | Decimal) -> int:
    # Within bounds already, and quantize works on the digits alone: no huge exponent is ever written out.
    return int(Decimal(degrees).scaleb(SCALE).to_integral_value(ROUND_HALF_EVEN))


def _look_over(parts: list[Part], name: str) -> None:
    """Look at how the rings stand to each other.

    Raises:
        InputError: they make no ground that can be measured.
    """
    every = [ring for part in parts for ring in (part.outer, *part.holes)]
    if len(every) > MAX_RINGS or sum(map(len, every)) > MAX_CORNERS:
        _refuse(name, f"has more than {MAX_CORNERS:,} corners or {MAX_RINGS} rings", "Simplify the outline")
    for axis in (0, 1):
        places = [corner[axis] for ring in every for corner in ring]
        if max(places) - min(places) > _WIDEST:
            _refuse(name, "is wider than any lawn", "Is it the outline of one zone?")
    wrong = _crossing(every) or next(filter(None, map(_holes, parts)), "") or _overlapping(parts)
    if wrong:
        _refuse(name, wrong, "Draw it again, once round the edge")


def _crossing(every: list[Ring]) -> str:
    """Return which rings cross; "" where none does."""
    if any(rings.crosses_itself(ring) for ring in every):
        return "has a ring that crosses or touches itself"
    pairs = ((one, other) for index, one in enumerate(every) for other in every[:index])
    return "has rings that cross each other" if any(rings.cross(*pair) for pair in pairs) else ""


def _holes(part: Part) -> str:
    """Return what is wrong with the holes of a part; "" where nothing is."""
    if not all(rings.is_within(hole, part.outer) for hole in part.holes):
        return "has a hole outside its outline"
    pairs = ((one, other) for index, one in enumerate(part.holes) for other in part.holes[:index])
    return "has holes that overlap" if any(rings.overlap(*pair) for pair in pairs) else ""


def _overlapping(parts: list[Part]) -> str:
    """Return that parts have ground in common; "" where none have. A part in a hole of another has none."""
    for index, one in enumerate(parts):
        for other in parts[:index]:
            is_apart = _is_island(one, other) or _is_island(other, one)
            if not is_apart and rings.overlap(one.outer, other.outer):
                return "has parts that overlap"
    return ""


def _is_island(small: Part, large: Part) -> bool:
    """Tell whether a part lies in a hole of another."""
    return any(rings.is_within(small.outer, hole) for hole in large.holes)


def _square_feet(parts: list[Part], name: str) -> str:
    """Return the ground of all parts in sq ft, rounded half-even."""
    meters = Decimal(0)
    for part in parts:
        meters += _square_meters(part.outer) - sum(map(_square_meters, part.holes), Decimal(0))
    feet = Fraction(meters) * factor("sq m") / factor("sq ft")
    text = decimal_text(feet, PLACES)
    if Fraction(text) <= 0:
        _refuse(name, "has no ground in it", "Draw it again, once round the edge")
    return text


def _square_meters(ring: Ring) -> Decimal:
    """Return the ground within a ring on the ellipsoid, in square meters to the millionth."""
    from geographiclib.geodesic import Geodesic  # type: ignore[import-untyped]  # it has no stubs

    polygon = Geodesic.WGS84.Polygon()
    for longitude, latitude in ring:
        polygon.AddPoint(latitude / 10**SCALE, longitude / 10**SCALE)
    _, _, found = polygon.Compute()
    return abs(Decimal(repr(float(found)))).quantize(Decimal("0.000001"))
