"""Lines over one axis: named at their ends, explained in a legend."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from typing import TYPE_CHECKING

from records.domain.ticks import ticks
from records.reports.chart_parts import (
    DASHES,
    GRAY,
    LEADING,
    NO_DATA,
    PALE,
    TEXT,
    Scale,
    Sheet,
    measure,
    number,
    spread,
)

if TYPE_CHECKING:
    from reportlab.graphics.shapes import Drawing

    from records.domain.chart_model import LineChart, Series

_ROW = TEXT * LEADING
_SAMPLE = 30.0  # of a line in the legend
_LEAST = 44.0  # height of the plot
_ZERO = Fraction(0)


@dataclass(frozen=True, slots=True)
class Frame:
    """Where the axes lie and what they span."""

    x: Scale
    y: Scale

    @property
    def right(self) -> float:
        """Return where the plot ends."""
        return self.x.start + self.x.size


def draw_lines(chart: LineChart, width: float, height: float) -> Drawing:
    """Return the picture.

    Args:
        chart: what to draw.
        width: in points.
        height: in points.
    """
    sheet = Sheet(width, height)
    top = sheet.head(chart.title)
    drawn, left_out = _room_for(chart, top, width)
    notes = chart.notes
    if left_out:
        notes = (f"{left_out} more lines are not drawn: there is no room", *notes)
    bottom = _legend(sheet, drawn, sheet.foot(notes))
    if not any(one.dots for one in drawn):
        sheet.text(width / 2, (top + bottom) / 2, NO_DATA, TEXT + 2, anchor="middle")
        return sheet.drawing
    frame = _frame(sheet, chart, drawn, top, bottom)
    _axes(sheet, chart, frame, top)
    for index, series in enumerate(drawn):
        _line(sheet, frame, series, index)
    _names(sheet, frame, drawn)
    return sheet.drawing


def _room_for(chart: LineChart, top: float, width: float) -> tuple[tuple[Series, ...], int]:
    """Return the lines that can be named in the legend, and how many cannot."""
    foot = Sheet(width, top).foot(("more", *chart.notes))
    rows = max(1, int((top - foot - 3 * _ROW - 8 - _LEAST) / _ROW))
    series = chart.series
    while len(series) > rows * _columns(series, width):
        series = series[:-1]
    return series, len(chart.series) - len(series)


def _entry(series: Series) -> str:
    note = series.note if series.dots else f"{series.note}; {NO_DATA}".lstrip("; ")
    return f"{series.name} ({note})" if note else series.name


def _columns(drawn: tuple[Series, ...], width: float) -> int:
    widest = max((measure(_entry(one)) for one in drawn), default=0.0) + _SAMPLE + 14
    return max(1, min(3, int((width - 4) / widest)))


def _legend(sheet: Sheet, drawn: tuple[Series, ...], y: float) -> float:
    """Write which mark is whose, and return what lies above."""
    columns = _columns(drawn, sheet.width)
    rows = -(-len(drawn) // columns)
    across = (sheet.width - 4) / columns
    for index, series in enumerate(drawn):
        x, base = 2 + index // rows * across, y + (rows - 1 - index % rows) * _ROW + 2
        middle = base + TEXT * 0.3
        sheet.line((x, middle), (x + _SAMPLE - 6, middle), 1.0, dashes=DASHES[index % len(DASHES)])
        sheet.mark(x + (_SAMPLE - 6) / 2, middle, index)
        sheet.text(x + _SAMPLE, base, _entry(series), room=across - _SAMPLE - 6)
    return y + rows * _ROW + 2


def _frame(sheet: Sheet, chart: LineChart, drawn: tuple[Series, ...], top: float, bottom: float) -> Frame:
    dots = [dot for series in drawn for dot in series.dots]
    values = [part for dot in dots for part in (dot.y, dot.low, dot.high) if part is not None]
    foot = bottom + 2 * _ROW + 4
    up = max(top - _ROW - 4 - foot, 20.0)
    ys = ticks(min(_ZERO, *values), chart.y_max or max(_ZERO, *values), max(2, int(up / 18)))
    names = [series for series in drawn if series.dots]
    widest = max(measure(series.name) for series in names) + 26
    right = min(widest, sheet.width * 0.32) if len(names) * _ROW <= up else 8.0
    left = max(measure(number(value)) for value in ys) + 8
    across = max(sheet.width - left - right - 6, 40.0)
    furthest = max(_ZERO, *(dot.x for dot in dots))
    xs = ticks(min(_ZERO, *(dot.x for dot in dots)), furthest, max(2, int(across / 32)))
    return Frame(Scale(tuple(xs), left, across), Scale(tuple(ys), foot, up))


def _axes(sheet: Sheet, chart: LineChart, frame: Frame, top: float) -> None:
    right = frame.right
    sheet.text(2, top - TEXT, chart.y_label, room=sheet.width - 4)
    for value in frame.y.numbers:
        y = frame.y.at(value)
        sheet.line((frame.x.start, y), (right, y), 0.4, PALE)
        sheet.text(frame.x.start - 5, y - TEXT * 0.35, number(value), anchor="end")
    for value in frame.x.numbers:
        x = frame.x.at(value)
        sheet.line((x, frame.y.start), (x, frame.y.start - 3))
        sheet.text(x, frame.y.start - 3 - TEXT, number(value), anchor="middle")
    sheet.line((frame.x.start, frame.y.start), (right, frame.y.start), 0.9)
    sheet.line((frame.x.start, frame.y.start), (frame.x.start, frame.y.start + frame.y.size), 0.9)
    middle = (frame.x.start + right) / 2
    sheet.text(middle, frame.y.start - 5 - TEXT - _ROW, chart.x_label, anchor="middle", room=sheet.width - 8)


def _line(sheet: Sheet, frame: Frame, series: Series, index: int) -> None:
    places = [(frame.x.at(dot.x), frame.y.at(dot.y)) for dot in series.dots]
    for start, end in pairwise(places):
        sheet.line(start, end, 1.1, dashes=DASHES[index % len(DASHES)])
    for (x, y), dot in zip(places, series.dots, strict=True):
        low, high = (y if value is None else frame.y.at(value) for value in (dot.low, dot.high))
        if low != high:
            sheet.span((x, low), (x, high))
        sheet.mark(x, y, index)


def _names(sheet: Sheet, frame: Frame, drawn: tuple[Series, ...]) -> None:
    """Write each name at the end of its line, pushed apart where lines end close to each other."""
    named = [(index, series) for index, series in enumerate(drawn) if series.dots]
    if len(named) * _ROW > frame.y.size:
        return
    named.sort(key=lambda one: (frame.y.at(one[1].dots[-1].y), -one[0]))
    ends = [(frame.x.at(one.dots[-1].x), frame.y.at(one.dots[-1].y)) for _, one in named]
    half = TEXT * 0.35
    places = spread([y for _, y in ends], _ROW, frame.y.start + half, frame.y.start + frame.y.size - half)
    x = frame.right + 12
    for (index, series), end, place in zip(named, ends, places, strict=True):
        sheet.line((end[0] + 4, end[1]), (x - 2, place), 0.4, GRAY)
        sheet.mark(x + 2, place, index, 2.4)
        sheet.text(x + 8, place - half, series.name, room=sheet.width - x - 10)
