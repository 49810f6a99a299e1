"""The tables of a packet, drawn row by row as they are told: the head repeated on every page, nothing held back."""

from __future__ import annotations

from itertools import islice
from typing import TYPE_CHECKING

from records.domain.packet_model import NO, NOT_ASKED, REASON, YES
from records.reports.fonts import BOLD, REGULAR, drawable
from records.reports.layout import LEADING, fitted, length, wrap

if TYPE_CHECKING:
    from collections.abc import Sequence

    from records.domain.packet_model import Table
    from records.reports.flow import Flow

SIZE = 7.4
STEP = SIZE * LEADING
GAP = 7.0
SAMPLE = 600  # rows that the widths of the columns are taken from
MOST_NUMBER = 80.0
MOST_TEXT = 260.0
LEAST = 26.0
WEIGHTS = {
    "url": 2.4,
    "title": 1.6,
    "citation": 1.6,
    "what": 2.2,
    "rule": 1.8,
    "message": 2.2,
    "changes": 2.6,
    "who": 1.8,
    "seal": 2.0,
    "broken": 1.8,
    "days": 1.8,
    "serials": 1.8,
}  # how little a column gives way where the page is too narrow
CELL_LINES = 60
FIXED = frozenset({"serial", "date", "pack", "version", "revision", "code", "severity"})  # never wrapped
GROUPED = {"site": 1, "pack": 4}  # first columns told once for all rows below that share them, and on the next page
GRID = 6.0  # size of the text in a grid
MARKS = {YES: ("y", REGULAR), NO: ("NO", BOLD), REASON: ("r", REGULAR), NOT_ASKED: ("-", REGULAR)}


def draw_packet_table(flow: Flow, table: Table) -> None:
    """Draw a table with its heading; it may run over many pages."""
    flow.gap(8)
    flow.need(70 if table.codes is None else 130)  # a grid stands with its legend
    flow.heading(table.title, 11)
    if not len(table.rows):
        flow.text(table.empty, 8.5)
        return
    if table.codes is not None:
        _grid(flow, table)
    else:
        _rows(flow, table)
    if table.note:
        flow.gap(2)
        flow.text(table.note, 7.4)


def _rows(flow: Flow, table: Table) -> None:
    places = _places(flow, table)
    _titles(flow, places)
    shared = GROUPED.get(table.columns[0].key, 0)
    last: tuple[str, ...] = ()
    for row in table.rows:
        lead = row[:shared]
        shown = map(drawable, (*([""] * shared if lead == last else lead), *row[shared:]))
        cells = [_cell(text, across) for text, (_, _, across, _) in zip(shown, places, strict=True)]
        last = lead
        height = STEP * max(map(len, cells)) + 2.6
        if flow.y + height > flow.bottom:
            flow.turn()
            _titles(flow, places)
            cells[:shared] = [_cell(drawable(text), place[2]) for text, place in zip(lead, places, strict=False)]
            height = STEP * max(map(len, cells)) + 2.6
        page, top = flow.page, flow.y + SIZE
        for (numeric, x, across, _), lines in zip(places, cells, strict=True):
            y = top
            for text in lines:
                page.text(x + across - length(text, SIZE) if numeric else x, y, text, SIZE)
                y += STEP
        flow.y += height
        page.rule(flow.left, flow.y - 1.2, flow.across, 0.2, gray=0.7)


Places = list[tuple[bool, float, float, tuple[str, ...]]]  # is a number, left edge, width, lines of the title


def _places(flow: Flow, table: Table) -> Places:
    places, x = [], flow.left
    for column, across in zip(table.columns, _widths(table, flow.across), strict=True):
        places.append((column.numeric, x, across, wrap(column.title, across, SIZE, BOLD)))
        x += across + GAP
    return places


def _cell(text: str, across: float) -> tuple[str, ...]:
    if not text:
        return ("",)
    return (text,) if length(text, SIZE) <= across else wrap(text, across, SIZE, REGULAR, CELL_LINES)


def _titles(flow: Flow, places: Places) -> None:
    most = max(len(title) for _, _, _, title in places)
    flow.need(STEP * (most + 3))
    for numeric, x, across, title in places:
        y = flow.y + SIZE + STEP * (most - len(title))
        for text in title:
            flow.page.text(x + across - length(text, SIZE, BOLD) if numeric else x, y, text, SIZE, BOLD)
            y += STEP
    flow.y += STEP * most + 2
    flow.page.rule(flow.left, flow.y, flow.across, 0.5)
    flow.y += 2


def _widths(table: Table, across: float) -> list[float]:
    """Return the width of each column: what its first rows need, text giving way where the page is too narrow."""
    rows = list(islice(table.rows, SAMPLE))
    natural = []
    for number, column in enumerate(table.columns):
        longest = max((length(drawable(text), SIZE) for text in {row[number] for row in rows}), default=0.0)
        word = max(length(part, SIZE, BOLD) for part in column.title.split(" "))
        natural.append(max(word, min(longest + 1.0, MOST_NUMBER if column.numeric else MOST_TEXT)))
    room = across - GAP * (len(natural) - 1)
    kept = [column.numeric or column.key in FIXED for column in table.columns]
    return _shrunk(natural, [column.key for column in table.columns], kept, room)


def _shrunk(natural: Sequence[float], keys: Sequence[str], kept: Sequence[bool], room: float) -> list[float]:
    """Return widths that fit: the widest columns give way together, those with much to say least."""
    widths, weights = list(natural), [WEIGHTS.get(key, 1.0) for key in keys]
    text = [number for number, keep in enumerate(kept) if not keep]
    for may_shrink in (text, list(range(len(widths)))):
        for _ in range(len(widths) * 4):
            over = sum(widths) - room
            wide = max((widths[number] / weights[number] for number in may_shrink), default=0.0)
            if over <= 0.01 or wide <= LEAST:
                break
            top = [number for number in may_shrink if widths[number] / weights[number] > wide - 0.01]
            others = (widths[number] / weights[number] for number in may_shrink if number not in top)
            step = min(over / sum(weights[number] for number in top), wide - max(max(others, default=LEAST), LEAST))
            for number in top:
                widths[number] -= step * weights[number]
    spare = room - sum(widths)
    if spare > 0 and text:
        widths[text[-1]] += min(spare, MOST_TEXT)
    return widths


def _grid(flow: Flow, table: Table) -> None:
    """Draw a grid of short marks under short codes, with a legend of both."""
    codes = table.codes or {}
    named = [column for column in table.columns if column.key in codes]
    first = len(table.columns) - len(named)
    legend = "; ".join(f"{codes[column.key]} {column.title}" for column in named)
    flow.text(f"y: held; NO: missing; r: a reason why not is stated; -: not asked of this record. {legend}.", SIZE)
    flow.gap(3)
    lead = [length("2026-000000", SIZE) + 4, length("2026-00-00", SIZE) + 4]
    state = max(40.0, min(120.0, flow.across - sum(lead) - 12.5 * len(named)))
    lead.append(state)
    step = min(16.0, (flow.across - sum(lead)) / max(1, len(named)))
    edges = [flow.left, flow.left + lead[0], flow.left + lead[0] + lead[1]]
    middles = [flow.left + sum(lead) + step * (number + 0.5) for number in range(len(named))]

    def titles() -> None:
        for column, x in zip(table.columns[:first], edges, strict=True):
            flow.page.text(x, flow.y + SIZE, column.title, SIZE, BOLD)
        for column, x in zip(named, middles, strict=True):
            flow.page.centre(x, flow.y + SIZE, codes[column.key], GRID, BOLD)
        flow.y += STEP + 2
        flow.page.rule(flow.left, flow.y, flow.across, 0.5)
        flow.y += 2

    flow.need(STEP * 5)
    titles()
    shifts = {mark: length(mark, GRID, font) / 2 for mark, font in MARKS.values()}
    for row in table.rows:
        if flow.y + STEP + 1 > flow.bottom:
            flow.turn()
            titles()
        page, y = flow.page, flow.y + SIZE
        page.text(edges[0], y, row[0], SIZE)
        page.text(edges[1], y, row[1], SIZE)
        page.text(edges[2], y, fitted(row[2], lead[2] - 4, GRID), GRID)
        for text, x in zip(row[first:], middles, strict=True):
            mark, font = MARKS[text]
            page.text(x - shifts[mark], y, mark, GRID, font)
        flow.y += STEP
        page.rule(flow.left, flow.y - 0.4, flow.across, 0.15, gray=0.75)
