"""Areas of figures: what is understood, what is refused and why, and what holds for any figure."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from records.domain import area
from records.domain.area import OffsetRule
from records.domain.figures import MAX_FIGURES, Figure, parse_figure, read_length, sum_of
from records.domain.numerals import QuantityError
from records.services.reading import read_site

FEET = st.integers(1, 40_000).map(lambda tenths: Fraction(tenths, 10))


def _text(feet: Fraction) -> str:
    return f"{feet.numerator / feet.denominator:.1f} ft"


@pytest.mark.parametrize(
    ("text", "kept", "feet"),
    [
        ("rectangle 60 ft x 25 ft", "rectangle 60 ft x 25 ft", "1500"),
        ("rect 60 x 25 ft", "rectangle 60 ft x 25 ft", "1500"),
        ("Rectangle 60' by 25'", "rectangle 60 ft x 25 ft", "1500"),
        ("rectangle 60 ft x 25", "rectangle 60 ft x 25 ft", "1500"),
        ("square 30 ft", "rectangle 30 ft x 30 ft", "900"),
        ("rectangle 20 yd x 10 yd", "rectangle 20 yd x 10 yd", "1800"),
        ("triangle 30 ft base 26 ft high", "triangle 30 ft base 26 ft high", "390"),
        ("triangle base 30 ft, height 26 ft", "triangle 30 ft base 26 ft high", "390"),
        ("triangle 30 x 26 ft high", "triangle 30 ft base 26 ft high", "390"),
        ("triangle 30 ft, 40 ft, 50 ft", "triangle 30 ft x 40 ft x 50 ft", "600"),
        ("trapezoid 30 ft and 20 ft, 10 ft high", "trapezoid 30 ft and 20 ft, 10 ft high", "250"),
        ("trapezoid 30 x 20 ft, 10 ft apart", "trapezoid 30 ft and 20 ft, 10 ft high", "250"),
        ("trapezoid 16 ft and 10 ft, slants 5 ft", "trapezoid 16 ft and 10 ft, slants 5 ft and 5 ft", "52"),
        ("trapezoid 24 ft and 10 ft, slants 13 ft and 15 ft", "", "204"),
        ("L-shape 60 ft x 40 ft less 20 ft x 15 ft", "L-shape 60 ft x 40 ft less 20 ft x 15 ft", "2100"),
        ("L 60 x 40 ft minus corner 20 x 15 ft", "L-shape 60 ft x 40 ft less 20 ft x 15 ft", "2100"),
        ("offsets every 10 ft: 0, 15, 10, 15, 25, 20, 0 by simpson", "", "900"),
        ("offsets every 10 ft: 0, 15, 10, 15, 25, 20, 0 by the trapezoid rule", None, ""),
        ("offsets every 10 ft: 0, 15, 10, 15, 25, 20, 0 by trapezoidal rule", "", "850"),
        ("offsets every 10 ft: 0, 15, 10, 15, 25, 20, 0 by mean length", "", "1020"),
        ("offset every 10 ft: 20; 10; 15; 20; 25; 20 by average", "", "2750/3"),
        ("400 sq ft", "400 sq ft", "400"),
        ("area 0.1 acre", "0.1 acre", "4356"),
        ("outline 4212.7 sq ft of 12 corners", "outline 4212.7 sq ft of 12 corners", "4212.7"),
        ("minus house: 1,200 sq ft", "minus house: 1200 sq ft", "1200"),
        ("- 400 sq ft", "minus 400 sq ft", "400"),
        ("minus drive: rectangle 60 ft 6 in x 12'6\"", "minus drive: rectangle 60 ft 6 in x 12 ft 6 in", "756.25"),
    ],
)
def test_a_figure(text: str, kept: str | None, feet: str) -> None:
    """A figure is understood, kept in one form, and read from it again."""
    if kept is None:
        with pytest.raises(QuantityError):
            parse_figure(text)
        return
    found = parse_figure(text)
    assert found.area == Fraction(feet)
    assert str(found) == (kept or str(found))
    assert parse_figure(str(found)) == found


def test_circles_and_ellipses() -> None:
    """Their areas follow from the circle number; an ellipse with equal axes is a circle."""
    across, radius = parse_figure("circle 12 ft across"), parse_figure("circle radius 6 ft")
    assert across.area == radius.area == area.PI * 36
    assert parse_figure("oval 12 x 12 ft").area == across.area
    assert (str(across), str(radius)) == ("circle 12 ft across", "circle 6 ft radius")
    assert parse_figure("circle diameter 12 ft") == parse_figure("circle 12 ft diameter") == across


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "is empty"),
        (7, "written as text"),
        ("rectangle 60 ft x 25 ft" + " " * 300 + "x", "fit"),
        ("hexagon 3 ft", "is not known; write one of: rectangle"),
        ("minus", "is not known"),
        ("rectangle 60 x 25", "write the unit too"),
        ("rectangle 60 ft x 25 ft x 3 ft", "write rectangle 60 ft x 25 ft"),
        ("rectangle 60 ft 25 ft", "write rectangle 60 ft x 25 ft"),
        ("60 ft by 25 ft", "has lengths and no name; write it like 'rectangle 60 ft by 25 ft'"),
        ("rectangle", "in one pair of quotes: rectangle 60 ft x 25 ft"),
        ("square 30", "write the unit too"),
        ("rectangle 0 ft x 25 ft", "makes no figure"),
        ("rectangle 99999 ft x 25 ft", "longer than ten miles"),
        ("rectangle 60 ft 14 in x 25 ft", "a foot or more of inches"),
        ("circle 12 ft", "write circle 12 ft across"),
        ("circle radius 12 ft across", "write circle 12 ft across"),
        ("triangle 1 ft, 2 ft, 3 ft", "longer than the third"),
        ("triangle 3 x 4 ft", "with three sides"),
        ("trapezoid 30 ft, 10 ft high", "write trapezoid"),
        ("trapezoid 30 ft and 20 ft, slants 3 ft and 4 ft and 5 ft", "write trapezoid"),
        ("trapezoid 20 ft and 20 ft, slants 10 ft", "the parallel sides are equal"),
        ("trapezoid 30 ft and 20 ft, slants 2 ft", "no trapezoid has sides"),
        ("L-shape 60 ft x 40 ft less 60 ft x 41 ft", "as large as the rectangle"),
        ("L-shape 60 ft x 40 ft", "the missing corner last"),
        ("offsets every 10 ft: 0, 22, 31, 28 by simpson", "an odd number of widths"),
        ("offsets every 10 ft: 0, 22, 31, 28", "by simpson, or by trapezoid or mean"),
        ("offsets every 10 ft: 0, 22, 31 by magic", "by simpson, or by trapezoid or mean"),
        ("offsets every 10 ft: 0, 0, 0 by mean", "three widths or more"),
        ("offsets every 10 ft: 5, 5 by mean", "three widths or more"),
        (f"offsets every 1 ft: {', '.join(['3'] * 61)} by mean", "measure them farther apart"),
        ("area 0 sq ft", "has no area"),
        (f"{'x' * 50}: 400 sq ft", "is no name"),
        (": 400 sq ft", "is no name"),
    ],
)
def test_what_is_no_figure(text: object, told: str) -> None:
    """What cannot be understood is refused in one line that says what would be."""
    with pytest.raises(QuantityError, match=told) as raised:
        parse_figure(text)
    assert "\n" not in str(raised.value)


def test_the_reading_of_a_figure() -> None:
    """The half-width of an area follows from its lengths, also where a longer one would break the figure."""
    assert parse_figure("rectangle 60 ft x 25 ft").half == Fraction("42.5")
    assert parse_figure("L-shape 10 ft x 10 ft less 9.9 ft x 9.6 ft").half > 0
    assert parse_figure("L-shape 10 ft x 10 ft less 9 ft x 9.96 ft").half > 0
    assert parse_figure("outline 4212.7 sq ft").half == Fraction("0.05")
    assert str(parse_figure("outline 4212.7 sq ft")) == "outline 4212.7 sq ft"


def test_lengths() -> None:
    """Feet and inches go together; a reading is half of the last digit, and nothing is just nothing."""
    assert read_length("60 ft 6 in").feet == Fraction("60.5")
    assert read_length("60 ft 6 1/2 in").feet == 60 + Fraction(13, 24)
    assert read_length("60 ft 1/2 in").feet == 60 + Fraction(1, 24)
    assert read_length("60.5 ft").half == Fraction("0.05")
    assert read_length("60 ft 6 in").half == Fraction(1, 24)
    assert read_length("0 ft").half == 0
    assert read_length("12", "yd").feet == 36


def test_simpson_is_exact_for_a_parabola() -> None:
    """A lawn whose edge is a parabola has two thirds of its box; the trapezoid rule falls short of it."""
    widths = [Fraction(x * (12 - x)) for x in range(13)]
    exact = Fraction(2, 3) * 12 * 36
    assert area.by_offsets(Fraction(1), widths, OffsetRule.SIMPSON) == exact
    assert area.by_offsets(Fraction(1), widths, OffsetRule.TRAPEZOID) < exact


def test_a_sum() -> None:
    """Figures add up, what is taken off is taken off, and the sum is rounded to a hundredth of a square foot."""
    total = sum_of([parse_figure(text) for text in ("rectangle 60 ft x 25 ft", "minus circle 10 ft across")])
    assert str(total) == "1421.46 sq ft"
    assert total.value == Fraction("1421.46")
    for texts in ([], ["100 sq ft", "minus 100 sq ft"], ["1 sq ft"] * (MAX_FIGURES + 1)):
        with pytest.raises(QuantityError):
            sum_of([parse_figure(text) for text in texts])


def test_roots() -> None:
    """The root of a square is exact, any other is cut after thirty decimals, and there is none below zero."""
    assert area.square_root(Fraction(49, 4)) == Fraction(7, 2)
    two = area.square_root(Fraction(2))
    assert two**2 < 2 < (two + Fraction(1, 10**30)) ** 2
    with pytest.raises(ValueError, match="below zero"):
        area.square_root(Fraction(-1))


@given(FEET, FEET, FEET)
def test_heron_is_half_of_base_and_height(base: Fraction, height: Fraction, foot: Fraction) -> None:
    """A triangle measured by its sides has the area of the same triangle by base and height."""
    left = area.square_root(foot**2 + height**2)
    right = area.square_root((base - foot) ** 2 + height**2)
    if left + right <= base:  # so flat that the cut roots do not close
        return
    found = area.triangle_of_sides(base, left, right)
    assert abs(found - base * height / 2) < Fraction(1, 10**12) * max(base, foot, height) ** 2


@given(FEET, FEET, FEET)
def test_trapezoid_by_slants(a: Fraction, over: Fraction, height: Fraction) -> None:
    """The height that two equal slants tell is the height."""
    slant = area.square_root((over / 2) ** 2 + height**2)
    assert abs(area.trapezoid_height(a + over, a, slant, slant) - height) < Fraction(1, 10**20)


@given(FEET, st.lists(FEET, min_size=1, max_size=20))
def test_rules_agree_on_a_rectangle(spacing: Fraction, widths: list[Fraction]) -> None:
    """Equal widths make a rectangle by every rule."""
    same = [widths[0]] * (2 * len(widths) + 1)
    whole = spacing * (len(same) - 1) * widths[0]
    assert {area.by_offsets(spacing, same, rule) for rule in OffsetRule} == {whole}


@given(FEET, FEET)
def test_what_is_written_is_read(length: Fraction, width: Fraction) -> None:
    """Every figure of whole tenths of feet is read as written, and the area lies within its reading."""
    for kind in ("rectangle", "ellipse"):
        found = parse_figure(f"{kind} {_text(length)} x {_text(width)}")
        assert parse_figure(str(found)) == found
        assert found.half > 0
    assert isinstance(found, Figure)


# -- with a zone -----------------------------------------------------------------------------------------------------


def _site(**zone: object) -> dict[str, object]:
    made = {"id": "front", "kind": "turf"} | zone
    return {
        "id": "elm-4",
        "customer": "c",
        "address": "4 Elm Row",
        "city": "Tamarack Falls",
        "state": "MN",
        "zip": "55199",
        "zones": [made],
    }


def _measured(**parts: object) -> dict[str, object]:
    return {"how": "wheel", "on": "2026-04-10", "by": "ruth", "figures": ["rectangle 60 x 25 ft"]} | parts


def test_the_area_of_a_zone_follows_from_its_figures() -> None:
    """An area may be left out; how, when and by whom it was measured stays with the zone."""
    problems: list[object] = []
    site = read_site(_site(measured=_measured()), problems)  # type: ignore[arg-type]  # problems of any kind
    assert not problems
    assert site is not None
    zone = site.zones[0]
    assert str(zone.area) == "1500 sq ft"
    assert zone.measured is not None
    assert (zone.measured.how, str(zone.measured.on), zone.measured.by) == ("wheel", "2026-04-10", "ruth")
    assert zone.measured.figures == ("rectangle 60 ft x 25 ft",)


@pytest.mark.parametrize("typed", ["1,500 sq ft", "1540 sq ft", "0.034 acre", "1.5 M"])
def test_an_area_that_agrees(typed: str) -> None:
    """Both may be given where they agree within what was read off the tape and what was rounded."""
    problems: list[object] = []
    site = read_site(_site(area=typed, measured=_measured()), problems)  # type: ignore[arg-type]
    assert not problems
    assert site is not None
    assert site.zones[0].area is not None


@pytest.mark.parametrize(
    ("zone", "told"),
    [
        ({"area": "1600 sq ft", "measured": _measured()}, "but the figures under measured make 1500 sq ft"),
        ({"measured": _measured(how="pacing")}, "one of: wheel, tape, map, estimate"),
        ({"measured": {"figures": ["400 sq ft"]}}, "how"),
        ({"measured": _measured(figures=["hexagon 3 ft"])}, "is not known"),
        ({"measured": _measured(figures=["400 sq ft", "minus 500 sq ft"])}, "nothing is left to treat"),
        ({"measured": _measured(on="yesterday")}, "is no day"),
        ({"measured": _measured(width="3 ft")}, "is not known"),
        ({"measured": "wheel"}, "a table"),
    ],
)
def test_what_a_zone_refuses(zone: dict[str, object], told: str) -> None:
    """Figures that contradict the area, or cannot be read, are told with their place."""
    problems: list[object] = []
    assert read_site(_site(**zone), problems) is None  # type: ignore[arg-type]
    assert told in " ".join(map(str, problems))


def test_a_zone_may_say_how_without_figures() -> None:
    """How an area was measured may be said of one that was typed."""
    problems: list[object] = []
    site = read_site(_site(area="1500 sq ft", measured={"how": "map"}), problems)  # type: ignore[arg-type]
    assert site is not None
    assert site.zones[0].measured is not None
    assert site.zones[0].measured.area is None
