"""Charts of the page models as terminal pictures: plain marks on a grid, bars with their values."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise
from typing import TYPE_CHECKING

from records.cli.output import display_width, printable, say, wrapped
from records.domain.chart_model import LineChart
from records.domain.quantities import format_number
from records.domain.ticks import ticks

if TYPE_CHECKING:
    from records.domain.chart_model import Bar, BarChart, Series

WIDTH, HEIGHT = 78, 18
MARKS = "ox*#@%&$=v"  # one for each line; more lines than marks are told in words
CROWDED = "?"  # where marks of two lines fall on one place
NO_DATA = "no data"
NOT_KNOWN = "not known"
_ZERO = Fraction(0)
_BAR, _LOW, _HIGH, _SPAN, _VALUE = "#", "[", "]", "-", "|"


def show_chart(chart: LineChart | BarChart) -> None:
    """Write a chart to the terminal."""
    for line in chart_text(chart):
        say(line)
    for note in chart.notes:
        say(wrapped(note, "  "))


def chart_text(chart: LineChart | BarChart) -> list[str]:
    """Return a chart as lines of at most 78 columns, without its notes."""
    body = _lines(chart) if isinstance(chart, LineChart) else _bars(chart)
    return [_cut(chart.title, WIDTH), *(line.rstrip() for line in body)]


def _cut(text: str, size: int) -> str:
    """Return a text without what steers, in so many columns at most."""
    text = " ".join(printable(text).split())
    if display_width(text) <= size:
        return text
    while text and display_width(text) > size - 3:
        text = text[:-1]
    return f"{text.rstrip()}..." if size > 3 else text


def _fill(text: str, size: int) -> str:
    text = _cut(text, size)
    return text + " " * (size - display_width(text))


def _lines(chart: LineChart) -> list[str]:
    drawn = chart.series[: len(MARKS)]
    left_out = len(chart.series) - len(drawn)
    more = [f"  and {left_out} more lines, not drawn"] if left_out else []
    legend = [f"  {mark} {_cut(_named(one), WIDTH - 4)}" for mark, one in zip(MARKS, drawn, strict=False)] + more
    dots = [dot for one in drawn for dot in one.dots]
    if not dots:
        return [f"  {NO_DATA}", *legend]
    rows = HEIGHT - 6
    ys = ticks(min(_ZERO, *(dot.y for dot in dots)), chart.y_max or max(_ZERO, *(dot.y for dot in dots)), rows // 2)
    numbers = [format_number(value, 4) for value in ys]
    left = max(map(len, numbers)) + 2
    across = WIDTH - left - 2
    xs = ticks(min(_ZERO, *(dot.x for dot in dots)), max(_ZERO, *(dot.x for dot in dots)), across // 7)
    down = rows // (len(ys) - 1) * (len(ys) - 1)  # so that each number stands on a row of its own
    grid = [[" "] * (across + 1) for _ in range(down + 1)]
    for mark, one in zip(MARKS, drawn, strict=False):
        _plot(grid, one, mark, xs, ys)
    out = [f"  {_cut(chart.y_label, WIDTH - 2)}"]
    for row, cells in enumerate(grid):
        step, rest = divmod(row * (len(ys) - 1), down)
        number = numbers[-1 - step] if not rest else ""
        out.append(f"{number:>{left - 1}}{'+' if number else '|'}{''.join(cells)}")
    return [*out, *_axis(xs, left, across), f"{' ' * left}{_cut(chart.x_label, across)}", *legend]


def _named(series: Series) -> str:
    note = "; ".join(part for part in (series.note, "" if series.dots else NO_DATA) if part)
    return f"{series.name} ({note})" if note else series.name


def _plot(grid: list[list[str]], series: Series, mark: str, xs: list[Fraction], ys: list[Fraction]) -> None:
    """Put the marks of a line on the grid, with dots between them."""
    down, across = len(grid) - 1, len(grid[0]) - 1

    def place(x: Fraction, y: Fraction) -> tuple[int, int]:
        y = min(max(y, ys[0]), ys[-1])
        return round((x - xs[0]) / (xs[-1] - xs[0]) * across), round((ys[-1] - y) / (ys[-1] - ys[0]) * down)

    places = [place(dot.x, dot.y) for dot in series.dots]
    for (x, y), (to_x, to_y) in pairwise(places):
        for column in range(x + 1, to_x):
            row = round(y + Fraction((to_y - y) * (column - x), to_x - x))
            if grid[row][column] == " ":
                grid[row][column] = "."
    for x, y in places:
        here = grid[y][x]
        grid[y][x] = mark if here in {" ", ".", mark} else CROWDED


def _axis(xs: list[Fraction], left: int, across: int) -> list[str]:
    line, numbers = ["-"] * (across + 1), [" "] * (across + left + 3)
    for index, value in enumerate(xs):
        column = round(Fraction(across * index, len(xs) - 1))
        line[column] = "+"
        text = format_number(value, 4)
        start = min(max(left + column - len(text) // 2, 0), WIDTH - len(text))
        numbers[start : start + len(text)] = text
    return [f"{' ' * (left - 1)}+{''.join(line)[1:]}", "".join(numbers)]


def _bars(chart: BarChart) -> list[str]:
    if not chart.bars:
        return [f"  {NO_DATA}"]
    names = min(max(display_width(printable(bar.name)) for bar in chart.bars), 26)
    ends = min(max(display_width(printable(_end(bar))) for bar in chart.bars), 30)
    across = WIDTH - names - ends - 6
    known = [part for bar in chart.bars for part in (bar.value, bar.low, bar.high) if part is not None]
    low, high = min([_ZERO, *known]), chart.most or max([_ZERO, *known])
    if low == high:
        high = low + 1
    rows = [f"  {_cut(chart.label, WIDTH - 2)}"]
    for bar in chart.bars:
        cells = _cells(bar, low, high, across)
        rows.append(f"  {_fill(bar.name, names)} {cells} {_cut(_end(bar), WIDTH - names - 4 - len(cells))}")
    return rows


def _end(bar: Bar) -> str:
    text = bar.text or (NOT_KNOWN if bar.value is None else "")
    return f"{text}, {bar.note}" if bar.note and text else text or bar.note


def _cells(bar: Bar, low: Fraction, high: Fraction, across: int) -> str:
    """Return a bar as characters: `#` up to its value, `[-|-]` from its lower bound over it to the upper."""

    def at(value: Fraction) -> int:
        return round((min(max(value, low), high) - low) / (high - low) * across)

    if bar.value is None:
        return "|"
    zero, far = at(_ZERO), at(bar.value)
    first, last = min(zero, far), max(zero, far)
    cells = [" "] * first + [_BAR] * (last - first)
    if bar.low is not None and bar.high is not None and bar.low != bar.high:
        start, end = at(bar.low), max(at(bar.high), at(bar.low) + 1)
        cells += [" "] * (end + 1 - len(cells))
        for column in range(start, end + 1):
            cells[column] = _SPAN
        cells[start], cells[end] = _LOW, _HIGH
        cells[min(max(far, start), end)] = _VALUE
    return f"|{''.join(cells)}"
