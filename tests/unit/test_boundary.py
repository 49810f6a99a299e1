"""Outlines in GeoJSON: measured on the ellipsoid, and refused where they are no lawn."""

from __future__ import annotations

import json
import math
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from records.domain import rings
from records.errors import InputError
from records.services import boundary
from records.services.boundary import MAX_BYTES, MAX_CORNERS, SCALE, read_outline

WEST, SOUTH, STEP = -93.1, 44.9, 0.0005
Point = list[float]
# The outline of Antarctica that the library's own documentation measures, as [latitude, longitude].
ANTARCTICA = [
    (-63.1, -58), (-72.9, -74), (-71.9, -102), (-74.9, -102), (-74.3, -131), (-77.5, -163), (-77.4, 163), (-71.7, 172),
    (-65.9, 140), (-65.7, 113), (-66.6, 88), (-66.9, 59), (-69.8, 25), (-70.0, -4), (-71.0, -14), (-77.3, -33),
    (-77.9, -46), (-74.7, -61),
]  # fmt: skip


def box(x: float = 0, y: float = 0, wide: float = 1, high: float = 1) -> list[Point]:
    """Return a closed ring, in steps from one corner."""
    corners = [(x, y), (x + wide, y), (x + wide, y + high), (x, y + high), (x, y)]
    return [[WEST + a * STEP, SOUTH + b * STEP] for a, b in corners]


def polygon(*found: Any) -> dict[str, Any]:  # noqa: ANN401 - what a file may hold
    return {"type": "Polygon", "coordinates": list(found)}


def several(*found: Any) -> dict[str, Any]:  # noqa: ANN401 - what a file may hold
    return {"type": "MultiPolygon", "coordinates": list(found)}


def feet(document: object) -> Fraction:
    return read_outline(json.dumps(document).encode()).area


def test_a_published_area() -> None:
    """Antarctica in the documentation of GeographicLib has 13662703680020.1 square meters."""
    ring = [(round(lon * 10**SCALE), round(lat * 10**SCALE)) for lat, lon in ANTARCTICA]
    assert round(boundary._square_meters(ring), 1) == Decimal("13662703680020.1")


def test_a_small_box_against_the_radii_of_curvature() -> None:
    """A box of half a thousandth of a degree is meridian arc x parallel arc, by the two radii of WGS84 (textbook)."""
    a, f = 6378137.0, 1 / 298.257223563
    e2, phi = f * (2 - f), math.radians(SOUTH + STEP / 2)
    w = math.sqrt(1 - e2 * math.sin(phi) ** 2)
    meters = a * (1 - e2) / w**3 * math.radians(STEP) * a / w * math.cos(phi) * math.radians(STEP)
    assert math.isclose(float(feet(polygon(box()))), meters / 0.3048**2, rel_tol=1e-5)


def test_the_figure_of_an_outline() -> None:
    """The area is text, rounded to a tenth of a square foot, and is read again as a figure."""
    found = read_outline(json.dumps(polygon(box())).encode())
    assert str(found) == "outline 23619.9 sq ft of 4 corners"
    assert found.area == Fraction("23619.9")


def test_wrappings_and_directions() -> None:
    """A feature, a collection of one, a ring the other way round and heights change nothing."""
    area = feet(polygon(box()))
    feature = {"type": "Feature", "properties": {"crs": 1}, "geometry": polygon(box())}
    assert feet(feature) == feet({"type": "FeatureCollection", "features": [feature]}) == area
    assert feet(polygon(box()[::-1])) == feet(polygon([[*point, 250.5] for point in box()])) == area
    assert feet(polygon([box()[0], *box()])) == area  # a corner twice
    assert feet({"crs": "urn:ogc:def:crs:OGC:1.3:CRS84", **polygon(box())}) == area


def test_holes_and_parts() -> None:
    """A hole is taken off, parts are added, and a part may lie in the hole of another or touch it."""
    whole, hole = box(wide=4, high=4), box(1, 1, 2, 2)
    net = feet(polygon(whole, hole))
    assert abs(net - feet(polygon(whole)) + feet(polygon(hole))) <= Fraction("0.1")
    assert abs(feet(several([box()], [box(1)])) - feet(polygon(box())) * 2) <= Fraction("0.2")
    island = several([whole, hole], [box(1.5, 1.5)])
    assert abs(feet(island) - net - feet(polygon(box(1.5, 1.5)))) <= Fraction("0.2")
    assert feet(several([box(1.5, 1.5)], [whole, hole])) == feet(island)


CROSSED = [box()[0], box()[2], box()[1], box()[3], box()[0]]
SPIKE = [*box()[:2], box(2)[1], *box()[1:]]
TOUCHING = [*box()[:3], box()[0], box(-1, 0)[3], box(-1, 0)[0], box()[0]]
MANY = [[WEST + STEP * math.cos(i / 200), SOUTH + STEP * math.sin(i / 200)] for i in range(1200)]


@pytest.mark.parametrize(
    ("document", "told"),
    [
        (polygon([point[::-1] for point in box()]), "latitude before longitude"),
        (polygon([[10.0, 50.0], [10.1, 50.0], [10.1, 50.1], [10.0, 50.0]]), "outside the United States"),
        (polygon(box()[:-1]), "not closed"),
        (polygon(box()[:3]), "fewer than four positions"),
        (polygon([box()[0], box()[1], box()[0], box()[0]]), "without ground"),
        (polygon([box()[0], box()[1], box()[2], box()[1], box()[0]]), "crosses or touches itself"),
        (polygon(CROSSED), "crosses or touches itself"),
        (polygon(SPIKE), "crosses or touches itself"),
        (polygon(TOUCHING), "crosses or touches itself"),
        (polygon(box(), box(0.5, 0.5)), "cross each other"),
        (polygon(box(), box(3, 3)), "a hole outside"),
        (polygon(box(wide=9, high=9), box(1, 1, 3, 3), box(2, 2)), "holes that overlap"),
        (polygon(box(), box()), "no ground"),
        (several([box()], [box()]), "parts that overlap"),
        (several([box()], [box(0.5, 0, 1, 1)]), "parts that overlap"),
        (several([box(wide=4, high=4)], [box(1, 1)]), "parts that overlap"),
        (polygon([[WEST, SOUTH], [WEST + 1, SOUTH], [WEST, SOUTH + 1], [WEST, SOUTH]]), "wider than any lawn"),
        (polygon(*[box(x) for x in range(70)]), "rings"),
        (several(*[[box(2 * x)] for x in range(70)]), "corners or"),
        (polygon([*MANY, MANY[0]]), "Simplify"),
        (polygon(), "without a ring"),
        (polygon("ring"), "fewer than four"),
        (polygon([["a", "b"]] * 4), "not longitude and latitude"),
        (polygon([[True, False]] * 4), "not longitude and latitude"),
        (polygon([[1]] * 4), "not longitude and latitude"),
        ({"type": "Point", "coordinates": [1, 2]}, "holds Point, which has no area"),
        ({"type": "Feature", "geometry": None}, "has no area"),
        ({"type": ["x"]}, "has no area"),
        ({"type": "MultiPolygon", "coordinates": []}, "has no area"),
        ({"type": "FeatureCollection", "features": []}, "holds 0 features"),
        ({"type": "FeatureCollection", "features": None}, "holds 0 features"),
        ({"type": "FeatureCollection", "features": [{}, {}]}, "holds 2 features"),
        ({"type": "FeatureCollection", "features": ["x"]}, "no GeoJSON object"),
        ({"crs": {"name": "EPSG:3857"}, **polygon(box())}, "another reference system"),
        ([1, 2], "no GeoJSON object"),
    ],
)
def test_what_is_no_outline(document: object, told: str) -> None:
    """Every ring is looked at before anything is measured; the refusal names the file and what is wrong."""
    with pytest.raises(InputError, match=told) as raised:
        read_outline(json.dumps(document).encode(), "yard.geojson")
    assert str(raised.value).startswith("yard.geojson")


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"\xff\xfe",
        b"[" * 500_000,
        b'{"type":"Polygon","coordinates":[[[NaN,1],[1,1],[1,1],[1,1]]]}',
        b'{"type":"Polygon","coordinates":[[[1e999999999,1],[1,1],[1,1],[1,1]]]}',
        b'{"type":"Polygon","coordinates":[[[' + b"9" * 5_000 + b",1],[1,1],[1,1],[1,1]]]}",
        b" " * (MAX_BYTES + 1),
    ],
    ids=["empty", "bytes", "deep", "nan", "huge", "digits", "long"],
)
def test_hostile_bytes(data: bytes) -> None:
    """Nothing that a file may hold takes more than an error."""
    with pytest.raises(InputError):
        read_outline(data)


def test_a_number_next_to_nothing() -> None:
    """A coordinate of hardly any size is nothing, and is never written out digit by digit."""
    text = b'{"type":"Polygon","coordinates":[[[-93,1e-999999],[-92.999,1e-99999],[-92.999,0.001],[-93,1e-999999]]]}'
    assert read_outline(text).corners == 3


def test_as_many_corners_as_are_read() -> None:
    """A ring of the most corners, with every edge beside every other, is looked through in good time."""
    size = MAX_CORNERS // 2
    up = [[WEST + i * 1e-6, SOUTH + (i % 2) * 1e-3] for i in range(size)]
    down = [[x, y + 1e-4 - 2e-3] for x, y in reversed(up)]
    assert read_outline(json.dumps(polygon([*up, *down, up[0]])).encode()).corners == MAX_CORNERS


# -- rings -----------------------------------------------------------------------------------------------------------

PLACES = st.tuples(st.integers(-9, 9), st.integers(-9, 9))


@given(st.lists(PLACES, min_size=3, max_size=9, unique=True))
def test_crossing_is_the_same_from_everywhere(ring: list[rings.Corner]) -> None:
    """Where a ring begins, which way it runs and where it lies change nothing of whether it crosses itself."""
    found = rings.crosses_itself(ring)
    assert rings.crosses_itself(ring[2:] + ring[:2]) is found
    assert rings.crosses_itself(ring[::-1]) is found
    assert rings.crosses_itself([(y, x) for x, y in ring]) is found


@given(st.lists(PLACES, min_size=3, max_size=9, unique=True), PLACES)
def test_within(ring: list[rings.Corner], point: rings.Corner) -> None:
    """A point is within a ring or it is not, whichever way the ring runs; its corners are on its edge."""
    assert rings.holds(ring, point) is rings.holds(ring[::-1], point)
    assert rings.holds(ring, ring[0]) is None
    assert rings.holds(ring, (50, 50)) is False
