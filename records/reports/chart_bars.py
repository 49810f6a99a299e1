"""Bars from zero, one below the other, each with its value in words."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import TYPE_CHECKING

from records.domain.ticks import ticks
from records.reports.chart_parts import HATCHES, LEADING, NO_DATA, PALE, TEXT, Scale, Sheet, measure, number

if TYPE_CHECKING:
    from reportlab.graphics.shapes import Drawing

    from records.domain.chart_model import Bar, BarChart

_PLAIN = HATCHES.index("plain")
_ROW = TEXT * LEADING
_LEAST_ROW, _MOST_ROW = 12.0, 24.0
NOT_KNOWN = "not known"
_ZERO = Fraction(0)


def draw_bars(chart: BarChart, width: float, height: float) -> Drawing:
    """Return the picture.

    Args:
        chart: what to draw.
        width: in points.
        height: in points.
    """
    chart = _that_fit(chart, width, height)
    sheet = Sheet(width, height)
    top, bottom = sheet.head(chart.title), sheet.foot(chart.notes) + 2 * _ROW + 2
    if not chart.bars:
        sheet.text(width / 2, (top + bottom) / 2, NO_DATA, TEXT + 2, anchor="middle")
        return sheet.drawing
    scale = _scale(chart, width)
    row = min(max((top - bottom) / len(chart.bars), _LEAST_ROW), _MOST_ROW)
    base = top - row * len(chart.bars)
    for value in scale.numbers:
        x = scale.at(value)
        sheet.line((x, base), (x, top), 0.4, PALE)
        sheet.text(x, base - 3 - TEXT, number(value), anchor="middle")
    half = min(measure(chart.label), width - 4) / 2
    # Beneath the middle of the axis, but never beyond the edges of the picture
    middle = min(max(scale.start + scale.size / 2, half + 2), width - half - 2)
    sheet.text(middle, base - 5 - TEXT - _ROW, chart.label, anchor="middle", room=width - 4)
    for index, bar in enumerate(chart.bars):
        _bar(sheet, bar, _PLAIN if chart.is_alike else index, scale, (top - row * (index + 1), row))
    sheet.line((scale.at(_ZERO), base), (scale.at(_ZERO), top), 0.9)
    return sheet.drawing


def _that_fit(chart: BarChart, width: float, height: float) -> BarChart:
    """Return the chart with as many bars as there is room for; a note says how many are left out."""
    trial = Sheet(width, height)
    room = max(1, int((trial.head(chart.title) - trial.foot(chart.notes) - 2 * _ROW - 2) / _LEAST_ROW))
    left_out = len(chart.bars) - room + 1
    if len(chart.bars) <= room:
        return chart
    told = f"{left_out} more bars are not drawn: there is no room"
    return replace(chart, bars=chart.bars[: room - 1], notes=(told, *chart.notes))


def _scale(chart: BarChart, width: float) -> Scale:
    names = min(max(measure(bar.name) for bar in chart.bars) + 8, width * 0.34)
    # Short names leave more room to the words at the end, but never less than a third of the picture to the bars
    texts = min(max(measure(_end(bar)) for bar in chart.bars) + 10, max(width * 0.36, width * 0.66 - names))
    across = max(width - names - texts - 4, 30.0)
    known = [part for bar in chart.bars for part in (bar.value, bar.low, bar.high) if part is not None]
    numbers = ticks(min([_ZERO, *known]), chart.most or max([_ZERO, *known]), max(2, int(across / 34)))
    return Scale(tuple(numbers), names, across)


def _end(bar: Bar) -> str:
    text = bar.text or (NOT_KNOWN if bar.value is None else "")
    return f"{text}, {bar.note}" if bar.note and text else text or bar.note


def _bar(sheet: Sheet, bar: Bar, index: int, scale: Scale, place: tuple[float, float]) -> None:
    bottom, row = place
    middle = bottom + row / 2
    base = middle - TEXT * 0.35
    sheet.text(scale.start - 5, base, bar.name, anchor="end", room=scale.start - 7)
    zero = scale.at(_ZERO)
    end = zero
    if bar.value is not None:
        thick, far = row * 0.62, scale.at(bar.value)
        if far != zero:
            sheet.bar(min(zero, far), middle - thick / 2, abs(far - zero), thick, index)
        low, high = (far if part is None else scale.at(part) for part in (bar.low, bar.high))
        if low != high:
            sheet.span((low, middle), (high, middle), halo=True)
        end = max(zero, far, low, high)
    elif bar.low is not None and bar.high is not None:  # no value, but the two ends between which it lies
        end = scale.at(bar.high)
        sheet.span((scale.at(bar.low), middle), (end, middle), halo=True)
    sheet.text(end + 6, base, _end(bar), room=max(sheet.width - end - 8, 10.0))
