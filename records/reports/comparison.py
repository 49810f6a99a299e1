"""Draws a comparison on one page: the curve, bars, the table with its numbers of sites, plain sentences."""

from __future__ import annotations

from typing import TYPE_CHECKING

from records.reports.charts import put
from records.reports.flow import LenientFlow
from records.reports.fonts import BOLD, REGULAR, drawable
from records.reports.layout import LEADING, About, Page, fitted, paper_size, write

if TYPE_CHECKING:
    from collections.abc import Sequence

    from records.services.comparing.words import ComparisonPage

BODY = 8.0
_CURVE = 216.0
_BARS = 122.0  # at most
_BARS_BESIDE, _BAR = 52.0, 20.0  # what is around bars, and each of them
_ROWS = 12  # groups in the table
_FIRST = 0.24  # of the width, for the names


def render_comparison(model: ComparisonPage, paper: str = "letter") -> bytes:
    """Return the page as PDF bytes; the same model gives the same bytes.

    Args:
        model: what it shows.
        paper: `letter` or `a4`.

    Raises:
        UsageError: no such paper.
    """
    size = paper_size(paper)
    about = About(model.title, model.firm, "Products compared on one target", "en", model.day)
    return write(_pages(model, size), size, about)


def _pages(model: ComparisonPage, paper: tuple[float, float]) -> list[Page]:
    """Return the page of pictures, and as many more as the words need: nothing of them is left out."""
    flow = LenientFlow(paper, 0.0, on_new_page=lambda one: one.text(drawable(model.title), 9, BOLD))
    page, across = flow.page, flow.across
    flow.head(model.title, f"{model.firm}, {model.day}", 9.0)
    flow.gap(3)
    flow.text(drawable(model.about), 9)
    flow.gap(4)
    put(page, model.curve, flow.left, flow.y, across, _CURVE)
    flow.y += _CURVE + 4
    half = (across - 12) / 2
    high = min(_BARS, _BARS_BESIDE + _BAR * max((len(chart.bars) for chart in model.bars), default=0))
    for place, chart in enumerate(model.bars):
        put(page, chart, flow.left + place % 2 * (half + 12), flow.y + place // 2 * (high + 4), half, high)
    flow.y += -(-len(model.bars) // 2) * (high + 4) + 2
    _table(flow, model.head, model.rows)
    flow.gap(2)
    flow.text(drawable(model.legend), BODY - 1)
    flow.gap(4)
    _lines(flow, "What can be told", model.sentences)
    _lines(flow, "Read with care", model.cautions)
    return flow.pages


def _table(flow: LenientFlow, head: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
    width = flow.across * (1 - _FIRST) / (len(head) - 1)
    edges = [0.0, *(flow.across * _FIRST + width * place for place in range(len(head) - 1))]
    for number, row in enumerate((head, *rows[:_ROWS])):
        font = BOLD if number == 0 else REGULAR
        for place, text in enumerate(row):
            room = (flow.across * _FIRST if place == 0 else width) - 4
            shown = fitted(drawable(text), room, BODY - 0.5, font)
            flow.page.text(flow.left + edges[place], flow.y + BODY, shown, BODY - 0.5, font)
        flow.y += BODY * LEADING
        if number == 0:
            flow.page.rule(flow.left, flow.y + 1, flow.across, 0.6)
            flow.gap(2)
    if len(rows) > _ROWS:
        flow.text(f"and {len(rows) - _ROWS} more; the command shows all", BODY)


def _lines(flow: LenientFlow, title: str, lines: Sequence[str]) -> None:
    flow.need(3 * BODY * LEADING)  # a heading never stands alone at the end of a page
    flow.text(title, BODY + 0.5, BOLD)
    for line in lines:
        flow.text(drawable(line), BODY, indent=8)
    flow.gap(3)
