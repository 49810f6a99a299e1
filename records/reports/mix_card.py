"""Draws mix cards, one page for each load: what goes in, how it is measured, in which order, where it goes."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from records.reports.flow import LenientFlow
from records.reports.fonts import BOLD, REGULAR, drawable
from records.reports.layout import LEADING, MARGIN, About, Page, fitted, length, paper_size, wrap, write

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from records.services.planning.card import Card, CardRow

SCALES = (1.1, 1.0, 0.9, 0.82, 0.75, 0.68)
BODY = 9.5
FOOT = 43.0
NAMES = 84.0  # width of the names of facts
# Left edges of the columns of the load table, as parts of the width, and what stands over them
COLUMNS = ((0.0, "Load"), (0.13, "Spray"), (0.23, "Covers"), (0.36, "Product"), (0.58, "Exact amount"))
STOP_COLUMNS = ((0.0, ""), (0.05, "Stop"), (0.66, "Area"), (0.80, "Spray"), (0.93, "Load"))
CUT_WORDS = "This page is too small; look at the plan before mixing, which has"
LEAST_STOPS = 4  # that are told however full the page is


def render_mix_cards(cards: Sequence[Card], paper: str = "letter") -> bytes:
    """Return cards as PDF bytes, one page each; the same cards give the same bytes.

    Args:
        cards: at least one.
        paper: `letter` or `a4`.

    Raises:
        UsageError: no such paper.
    """
    title = f"Mix cards, {cards[0].day}" if len(cards) > 1 else cards[0].title
    about = About(title, cards[0].firm, "What goes into each load, and in which order", "en", cards[0].day)
    return write([card_page(card, paper) for card in cards], paper_size(paper), about)


def card_page(card: Card, paper: str) -> Page:
    """Return the page: as large as it fits; what does not fit at the smallest is cut, with a line that says so."""
    size = paper_size(paper)
    for scale in SCALES:
        pages = _draw(card, size, scale)
        if len(pages) == 1:
            return pages[0]
    for shorter in _shorter(card):
        pages = _draw(shorter, size, SCALES[-1])
        if len(pages) == 1:
            return pages[0]
    return pages[0]


def _shorter(card: Card) -> Iterator[Card]:
    """Yield the card with less on it, step by step: stops, then ways to measure, then the ends of long lists."""
    stops = len(card.stops)
    while stops > LEAST_STOPS:
        stops = max(LEAST_STOPS, stops * 3 // 4)
        yield _cut_stops(card, stops)
    card = _cut_stops(card, LEAST_STOPS)
    for ways in (1, 0):
        card = replace(card, rows=tuple(row._replace(measure=row.measure[:ways]) for row in card.rows))
        yield card
    for most in (16, 10, 6, 3, 1):
        long = (("products", card.products), ("lines of the load table", card.rows), ("binding lines", card.binding))
        left = [f"{len(part) - keep} {name}" for name, part in long if len(part) > (keep := 2 * most)]
        told = (f"{CUT_WORDS} {' and '.join(left)}",) if left else ()
        yield replace(
            card,
            warnings=(*told, *_texts(card.warnings, most, "warnings")),
            products=tuple((_cut(name, 60), _cut(text, 40 * most)) for name, text in card.products[: 2 * most]),
            rows=card.rows[: 2 * most],
            order=(*_texts(card.order, 2 * most, "steps"),),
            binding=tuple((name, _cut(text, 60 * most)) for name, text in card.binding[: 2 * most]),
            about=tuple((name, _cut(text, 60 * most)) for name, text in card.about),
            order_source=_cut(card.order_source, 200),
        )


def _cut_stops(card: Card, most: int) -> Card:
    left = len(card.stops) - most
    if left <= 0:
        return card
    told = ("", f"{left} more stops do not fit on this page; the plan on the screen has them all", "", "", "")
    return replace(card, stops=(*card.stops[:most], told))


def _texts(texts: tuple[str, ...], most: int, what: str) -> list[str]:
    left = len(texts) - most
    told = [f"{CUT_WORDS} {left} more {what}"] if left > 0 else []
    return [*(_cut(text, 60 * most) for text in texts[:most]), *told]


def _cut(text: str, most: int) -> str:
    text = drawable(text)  # a character without a glyph takes the room of its code
    return text if len(text) <= most else f"{text[:most].rstrip()} ... (cut; see the plan)"


def _draw(card: Card, paper: tuple[float, float], scale: float) -> list[Page]:
    flow = LenientFlow(paper, FOOT, scale)
    right = flow.left + flow.across
    size, small = flow.size(16), flow.size(9)
    firm = fitted(drawable(f"{card.firm}  {card.phone}"), flow.across * 0.55, small, BOLD)
    room = flow.across - length(firm, small, BOLD) - 12
    flow.page.text(flow.left, flow.y + size, fitted(drawable(card.title), room, size, BOLD), size, BOLD)
    flow.page.right(right, flow.y + size, firm, small, BOLD)
    flow.y += size * 1.35
    flow.page.rule(flow.left, flow.y, flow.across, 1.2)
    flow.gap(5)
    for name, text in card.about:
        _fact(flow, name, text)
    if card.warnings:
        flow.gap(4)
        flow.open_box(1.6)
        flow.gap(4)
        for text in card.warnings:
            flow.text(text, BODY, BOLD, indent=7, inset=7)
        flow.gap(4)
        flow.close_box()
    flow.gap(5)
    for name, text in card.products:
        flow.led(f"{name}:", text, BODY)
    flow.gap(4)
    _loads(flow, card.rows)
    if card.order:
        flow.gap(5)
        flow.heading(drawable(f"Mixing order: {card.order_source}"), 10)
        for index, step in enumerate(card.order, 1):
            flow.led(f"{index}", step, BODY)
    if card.binding:
        flow.gap(5)
        flow.heading("What binds the whole load: the strictest line of all its labels", 10)
        for name, text in card.binding:
            _fact(flow, name, text)
    flow.gap(5)
    _stops(flow, card)
    _foot(flow.pages[0], card, paper)
    return flow.pages


def _fact(flow: LenientFlow, name: str, text: str) -> None:
    names, size = NAMES * flow.scale, flow.size(BODY)
    lines = wrap(drawable(text), flow.across - names, size)
    flow.need(size * LEADING * len(lines))
    flow.page.text(flow.left, flow.y + size * 0.97, fitted(drawable(f"{name}:"), names - 4, size, BOLD), size, BOLD)
    for line in lines:
        flow.need(size * LEADING)
        flow.page.text(flow.left + names, flow.y + size * 0.97, line, size)
        flow.y += size * LEADING


def _loads(flow: LenientFlow, rows: tuple[CardRow, ...]) -> None:
    """Write the table of loads; below each amount how it is measured."""
    size = flow.size(BODY)
    flow.need(size * LEADING * 3)
    for part, words in COLUMNS:
        flow.page.text(flow.left + part * flow.across, flow.y + size * 0.97, words, size, BOLD)
    flow.y += size * LEADING
    flow.page.rule(flow.left, flow.y, flow.across, 0.8)
    flow.gap(2)
    edges = [part for part, _ in COLUMNS] + [1.0]
    for row in rows:
        cells = (row.load, row.size, row.covers, row.product, row.amount)
        flow.need(size * LEADING * (1 + len(row.measure)))
        if row.load:
            flow.page.rule(flow.left, flow.y, flow.across, 0.3, 0.5)
        for index, text in enumerate(cells):
            across = (edges[index + 1] - edges[index]) * flow.across - 4
            font, large = (BOLD, flow.size(BODY + 1.5)) if index == len(cells) - 1 else (REGULAR, size)
            shown = fitted(drawable(text), across, large, font)
            flow.page.text(flow.left + edges[index] * flow.across, flow.y + large * 0.97, shown, large, font)
        flow.y += flow.size(BODY + 1.5) * LEADING
        for text in row.measure:
            flow.text(text, BODY - 0.5, indent=COLUMNS[3][0] * flow.across)
        flow.gap(2)


def _stops(flow: LenientFlow, card: Card) -> None:
    size = flow.size(BODY)
    flow.need(size * LEADING * 3)
    for part, words in STOP_COLUMNS:
        flow.page.text(flow.left + part * flow.across, flow.y + size * 0.97, words, size, BOLD)
    flow.y += size * LEADING
    flow.page.rule(flow.left, flow.y, flow.across, 0.8)
    flow.gap(2)
    edges = [part for part, _ in STOP_COLUMNS] + [1.0]
    for row in card.stops:
        flow.need(size * LEADING)
        is_whole = not any(row[2:])
        for index, text in enumerate(row):
            across = ((1.0 if is_whole and index == 1 else edges[index + 1]) - edges[index]) * flow.across - 4
            shown = fitted(drawable(text), across, size)
            flow.page.text(flow.left + edges[index] * flow.across, flow.y + size * 0.97, shown, size)
        flow.y += size * LEADING


def _foot(page: Page, card: Card, paper: tuple[float, float]) -> None:
    across, top = paper[0] - 2 * MARGIN, paper[1] - MARGIN - FOOT + 6
    page.rule(MARGIN, top, across, 0.8)
    y = top + 10
    for line in wrap(" ".join(card.cautions), across, 8, BOLD, 3):
        page.text(MARGIN, y, line, 8, BOLD)
        y += 8 * LEADING
