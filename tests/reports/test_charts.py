"""Charts: no two words on one place, names are data, nothing known is said in words, the same bytes again."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import date
from fractions import Fraction
from itertools import combinations, pairwise
from typing import TYPE_CHECKING
from xml.etree import ElementTree as ET

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pypdf import PdfReader
from reportlab.graphics.shapes import Drawing, Rect, String

from records.domain.chart_model import Bar, BarChart, Dot, LineChart, Series
from records.domain.ticks import ticks
from records.reports.chart_parts import spread
from records.reports.charts import pdf, picture, svg
from records.reports.fonts import width
from records.reports.layout import About

if TYPE_CHECKING:
    from collections.abc import Iterator

HOSTILE = "<b>Brindle</b> & \x1b[2J]]> \u202e\U0001f331 ../../etc"
ABOUT = About("Charts", "Firm", "Test", "en", date(2026, 10, 1))


def series(name: str, *points: tuple[int, int], note: str = "4 sites") -> Series:
    """Return a line with a span at each dot."""
    return Series(name, tuple(Dot(Fraction(x), Fraction(y), Fraction(y - 3), Fraction(y + 3)) for x, y in points), note)


def boxes(drawing: Drawing) -> Iterator[tuple[float, float, float, float, str]]:
    """Yield left, bottom, right, top of each text; letters reach 0.22 of the size down and 0.74 up."""
    for shape in drawing.contents:
        if isinstance(shape, String):
            long = width(shape.text, shape.fontName) * shape.fontSize / 1000
            left = shape.x - {"start": 0.0, "middle": long / 2, "end": long}[shape.textAnchor]
            yield left, shape.y - 0.22 * shape.fontSize, left + long, shape.y + 0.74 * shape.fontSize, shape.text


def assert_readable(drawing: Drawing) -> None:
    """Check that no text lies on another or beyond the edges."""
    placed = list(boxes(drawing))
    for left, bottom, right, top, text in placed:
        assert left >= -0.1, text
        assert bottom >= -0.1, text
        assert right <= drawing.width + 0.1, text
        assert top <= drawing.height + 0.1, text
    for one, other in combinations(placed, 2):
        apart = one[2] <= other[0] + 0.01 or other[2] <= one[0] + 0.01 or one[3] <= other[1] or other[3] <= one[1]
        assert apart, (one, other)


def words(drawing: Drawing) -> str:
    """Return all texts of a drawing."""
    return "\n".join(text for *_, text in boxes(drawing))


NAMES = st.text(st.characters(codec="utf-8"), max_size=70)
POINTS = st.lists(st.tuples(st.integers(0, 400), st.integers(-60, 100)), max_size=6).map(sorted)
LINES = st.builds(
    lambda title, lines, notes: LineChart(
        title,
        "days after treatment",
        "control, %",
        tuple(series(name, *points, note=note) for name, note, points in lines),
        notes=tuple(notes),
    ),
    NAMES,
    st.lists(st.tuples(NAMES, NAMES, POINTS), max_size=14),
    st.lists(NAMES, max_size=6),
)
VALUES = st.none() | st.fractions(-200, 5000, max_denominator=100)
BARS = st.builds(
    lambda title, label, bars, notes: BarChart(
        title,
        label,
        tuple(
            Bar(name, value, text, None if value is None else value - 1, None if value is None else value + 9, note)
            for name, value, text, note in bars
        ),
        notes=tuple(notes),
    ),
    NAMES,
    NAMES,
    st.lists(st.tuples(NAMES, VALUES, NAMES, NAMES), max_size=20),
    st.lists(NAMES, max_size=6),
)
SIZES = st.tuples(st.integers(260, 700), st.integers(190, 420))


@settings(max_examples=60, deadline=None)
@given(chart=LINES | BARS, size=SIZES)
def test_no_word_lies_on_another(chart: LineChart | BarChart, size: tuple[int, int]) -> None:
    assert_readable(picture(chart, *map(float, size)))


def test_lines_that_end_together_have_their_names_apart() -> None:
    ends = tuple(series(f"Product {letter}", (0, 0), (28, 88 + index % 2)) for index, letter in enumerate("ABCDEF"))
    drawing = picture(LineChart("Control", "days", "%", ends, Fraction(100)))
    assert_readable(drawing)
    for letter in "ABCDEF":
        assert f"Product {letter}\n" in words(drawing) + "\n"
        assert f"Product {letter} (4 sites)" in words(drawing)


def test_what_is_not_there_is_said() -> None:
    assert "no data" in words(picture(LineChart("Control", "days", "%", ())))
    assert "no data" in words(picture(BarChart("Cost", "$", ())))
    lines = LineChart("Control", "days", "%", (series("A", (7, 30)), Series("B", (), "0 sites")))
    assert "B (0 sites; no data)" in words(picture(lines))
    bars = BarChart("Days", "days", (Bar("A", Fraction(3), "3 days"), Bar("B", None, ""), Bar("C", None, "1 of 3")))
    assert "not known" in words(picture(bars))
    assert "1 of 3" in words(picture(bars))


def test_a_value_known_only_to_lie_between_two_ends_is_drawn_as_a_span_without_a_bar() -> None:
    """A median between 35 and 36 days is far from one that nobody knows, and far from none."""
    known = Bar("A", Fraction(13), "13 days")
    open_one = Bar("B", None, "35-36 days, open at 1 of 12 sites")
    without, drawn = (
        picture(BarChart("Days", "days", (known, bar), Fraction(50)), 252, 90)
        for bar in (open_one, replace(open_one, low=Fraction(35), high=Fraction(36)))
    )
    assert_readable(drawn)
    assert open_one.text in words(drawn)  # whole, although it is long: short names leave it the room
    bars = [sum(isinstance(shape, Rect) for shape in one.contents) for one in (without, drawn)]
    assert bars[0] == bars[1]
    assert len(drawn.contents) > len(without.contents)


def test_what_has_no_room_is_counted() -> None:
    many = tuple(series(f"Product {number}", (7, number)) for number in range(60))
    drawing = picture(LineChart("Control", "days", "%", many), 400, 200)
    assert_readable(drawing)
    assert "more lines are not drawn" in words(drawing)
    bars = tuple(Bar(f"Product {number}", Fraction(number), str(number)) for number in range(60))
    drawing = picture(BarChart("Cost", "$", bars), 400, 200)
    assert_readable(drawing)
    assert "more bars are not drawn" in words(drawing)


def test_svg_is_text_that_holds_names_as_data() -> None:
    chart = LineChart(HOSTILE, "days", HOSTILE, (series(HOSTILE, (7, 30)),), notes=(HOSTILE,))
    written = svg(chart)
    assert written == svg(chart)
    root = ET.fromstring(written)  # noqa: S314
    tags = {element.tag.rpartition("}")[2] for element in root.iter()}
    assert "b" not in tags
    texts = [element.text or "" for element in root.iter() if element.tag.endswith("}text")]
    assert any(text.startswith("<b>Brindle</b> &") for text in texts)
    assert not any("\x1b" in text or "\u202e" in text for text in texts)
    assert b"'Noto Sans'" in written


def test_a_pdf_has_its_own_fonts_and_the_same_bytes() -> None:
    charts: list[LineChart | BarChart] = [
        LineChart("Control", "days", "%", (series(HOSTILE, (7, 30), (14, 60)),)),
        BarChart("Cost", "$", (Bar("A", Fraction(3), "$3.00", Fraction(2), Fraction(4)),)),
    ]
    data = pdf(charts, ABOUT)
    assert data == pdf(charts, ABOUT)
    page = PdfReader(io.BytesIO(data)).pages[0]
    text = page.extract_text()
    assert "Control" in text
    assert "$3.00" in text
    fonts = {str(font.get_object()["/BaseFont"]) for font in page["/Resources"]["/Font"].values()}  # type: ignore[index]
    assert all("NotoSans" in font or "Helvetica" in font for font in fonts)  # Helvetica: named by the writer, not used
    assert any("NotoSans" in font for font in fonts)


@pytest.mark.parametrize(
    ("low", "high", "most", "wanted"),
    [
        (0, 100, 11, [0, 10, 20, 30, 40, 50, 60, 70, 80, 90, 100]),
        (0, 100, 6, [0, 20, 40, 60, 80, 100]),
        (0, 42, 6, [0, 10, 20, 30, 40, 50]),
        (-12, 95, 4, [-50, 0, 50, 100]),
        (0, 0, 3, [0, Fraction(1, 2), 1]),
    ],
)
def test_ticks(low: int, high: int, most: int, wanted: list[Fraction]) -> None:
    assert ticks(Fraction(low), Fraction(high), most) == wanted


@given(
    low=st.fractions(-1000, 0, max_denominator=50),
    high=st.fractions(0, 100000, max_denominator=50),
    most=st.integers(3, 14),
)
def test_ticks_span_what_they_should(low: Fraction, high: Fraction, most: int) -> None:
    found = ticks(low, high, most)
    assert found[0] <= low
    assert found[-1] >= high
    assert 2 <= len(found) <= most
    assert len({b - a for a, b in pairwise(found)}) == 1


@given(wanted=st.lists(st.floats(0, 100), min_size=1, max_size=9).map(sorted))
def test_spread_keeps_order_gap_and_bounds(wanted: list[float]) -> None:
    found = spread(wanted, 10, 0, 100)
    assert all(b - a >= 10 - 1e-6 for a, b in pairwise(found))
    assert found[0] >= -1e-6
    assert found[-1] <= 100 + 1e-6
