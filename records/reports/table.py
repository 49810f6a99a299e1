"""Tables drawn straight onto the page: no cell objects, widths from the cached string widths, the head repeated."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from records.reports.fonts import BOLD, REGULAR
from records.reports.layout import LEADING, length, wrap

if TYPE_CHECKING:
    from collections.abc import Sequence

    from records.reports.flow import Flow

SIZE = 8.0
GAP = 9.0  # between two columns
CELL_LINES = 40  # a longer cell is cut with a mark
MOST_NUMERIC = 96.0


class Cell(NamedTuple):
    """One line of a cell."""

    text: str
    font: str = REGULAR


class Head(NamedTuple):
    """One column: its title, whether numbers stand right, and its share of the room left for text."""

    title: str
    numeric: bool
    share: float = 1.0


Row = tuple[tuple[Cell, ...], ...]


def plain(values: Sequence[str], font: str = REGULAR) -> Row:
    """Return a row of one-line cells."""
    return tuple((Cell(value, font),) for value in values)


def numeric_width(head: Head, column: Sequence[tuple[Cell, ...]]) -> float:
    """Return the width a numeric column needs: its longest number, or the longest word of its title."""
    texts = {line for cell in column for line in cell}
    longest = max((length(text, SIZE, font) for text, font in texts), default=0.0)
    return min(MOST_NUMERIC, max(longest, *(length(word, SIZE, BOLD) for word in head.title.split(" "))))


def draw_table(flow: Flow, heads: Sequence[Head], rows: Sequence[Row], total: Row | None) -> None:
    """Draw a table at the cursor; it may run over many pages."""
    widths = _widths(flow, heads, [*rows, *([total] if total else [])])
    edges, x = [], flow.left
    for width in widths:
        edges.append(x)
        x += width + GAP
    places = list(zip(heads, edges, widths, strict=True))
    _titles(flow, places)
    for number, row in enumerate(rows, start=1):
        # The total stays with the last row.
        after = max(len(cell) for cell in total) if total is not None and number == len(rows) else 0
        _row(flow, places, row, after)
    if total is not None:
        flow.page.rule(flow.left, flow.y - 0.6, flow.across, 0.9)
        _row(flow, places, total)
    flow.gap(2)


Places = list[tuple[Head, float, float]]


def _widths(flow: Flow, heads: Sequence[Head], rows: Sequence[Row]) -> list[float]:
    numeric = {
        number: numeric_width(head, [row[number] for row in rows]) for number, head in enumerate(heads) if head.numeric
    }
    room = flow.across - sum(numeric.values()) - GAP * (len(heads) - 1)
    shares = sum(head.share for head in heads if not head.numeric) or 1.0
    return [numeric.get(number, max(30.0, room * head.share / shares)) for number, head in enumerate(heads)]


def _titles(flow: Flow, places: Places) -> None:
    lines = [wrap(head.title, width, SIZE, BOLD) for head, _, width in places]
    most = max(len(title) for title in lines)
    step = SIZE * LEADING
    flow.need(step * (most + 3))
    for (head, x, width), title in zip(places, lines, strict=True):
        y = flow.y + SIZE + step * (most - len(title))  # titles stand on the rule
        for text in title:
            flow.page.text(x + width - length(text, SIZE, BOLD) if head.numeric else x, y, text, SIZE, BOLD)
            y += step
    flow.y += step * most + 2
    flow.page.rule(flow.left, flow.y, flow.across, 0.5)
    flow.y += 2


def _row(flow: Flow, places: Places, row: Row, after: int = 0) -> None:
    step = SIZE * LEADING
    cells: list[list[Cell]] = []
    most = 1
    for (head, _, width), cell in zip(places, row, strict=True):
        lines: list[Cell] = []
        for text, font in cell:
            if text:
                one_line = head.numeric or length(text, SIZE, font) <= width
                lines.extend(
                    [Cell(text, font)]
                    if one_line
                    else (Cell(part, font) for part in wrap(text, width, SIZE, font, CELL_LINES))
                )
        cells.append(lines)
        most = max(most, len(lines))
    if flow.y + step * (most + after) + (6 if after else 2) > flow.bottom:
        flow.turn()
        _titles(flow, places)
    page, top = flow.page, flow.y + SIZE
    for (head, x, width), lines in zip(places, cells, strict=True):
        y = top
        for text, font in lines:
            page.text(x + width - length(text, SIZE, font) if head.numeric else x, y, text, SIZE, font)
            y += step
    flow.y += step * most + 1.2
    flow.page.rule(flow.left, flow.y, flow.across, 0.2, gray=0.7)
    flow.y += 1.2
