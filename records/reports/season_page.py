"""Draws the season on one page to pin to a wall: totals, six charts, what they count, and the seal they end at."""

from __future__ import annotations

from typing import TYPE_CHECKING

from records.reports.charts import put
from records.reports.fonts import BOLD, REGULAR, drawable
from records.reports.layout import LEADING, MARGIN, About, Page, fitted, length, paper_size, wrap, write

if TYPE_CHECKING:
    from datetime import date

    from records.domain.report_model import Fact
    from records.services.season import Season

COLUMNS = 3  # of totals
SIZE, SMALL = 9.0, 7.0
GAP = 10.0


def render_season(season: Season, issued_on: date, paper: str = "letter") -> bytes:
    """Return the page as PDF; the same season gives the same bytes.

    Args:
        season: to draw.
        issued_on: the day written into the file.
        paper: `letter` or `a4`.

    Raises:
        UsageError: no such paper.
    """
    about = About(season.title, season.firm, f"Work, cost and control of {season.year}", "en", issued_on)
    return write([season_page(season, paper)], paper_size(paper), about)


def season_page(season: Season, paper: str) -> Page:
    """Return the page."""
    across, down = paper_size(paper)
    page, room = Page(), across - 2 * MARGIN
    y = MARGIN + 20
    page.text(MARGIN, y, drawable(season.title), 20, BOLD)
    page.right(across - MARGIN, y, fitted(drawable(season.firm), room * 0.6, 12, BOLD), 12, BOLD)
    y += 8
    page.rule(MARGIN, y, room, 1.2)
    y = _totals(page, season.facts, y + 6, room)
    lines = _foot_lines(season, room)
    bottom = down - MARGIN - len(lines) * SMALL * LEADING
    rows = (len(season.charts) + 1) // 2
    wide, high = (room - GAP) / 2, (bottom - y - GAP) / max(rows, 1) - GAP
    for number, chart in enumerate(season.charts):
        left = MARGIN + (number % 2) * (wide + GAP)
        put(page, chart, left, y + (number // 2) * (high + GAP), wide, high)
    for number, line in enumerate(lines):
        page.text(MARGIN, bottom + (number + 1) * SMALL * LEADING, line, SMALL)
    return page


def _totals(page: Page, facts: tuple[Fact, ...], y: float, room: float) -> float:
    """Put the totals in columns; return where they end."""
    each = room / COLUMNS
    deep = (len(facts) + COLUMNS - 1) // COLUMNS
    step = SIZE * LEADING * 1.15
    for number, fact in enumerate(facts):
        left = MARGIN + (number // deep) * each
        line = y + (number % deep + 1) * step
        value = fitted(drawable(fact.value), each * 0.5, SIZE, BOLD)
        taken = length(value, SIZE, BOLD) + 12 + 6  # the value, the gap between columns, the gap before the value
        page.text(left, line, fitted(drawable(fact.label), each - taken, SIZE), SIZE, REGULAR)
        page.right(left + each - 12, line, value, SIZE, BOLD)
    return y + deep * step + GAP


def _foot_lines(season: Season, room: float) -> list[str]:
    said = (*season.notes, *season.cautions, f"{season.issued}. Last seal of the book: {season.last_seal}")
    return [line for text in said for line in wrap(drawable(text), room, SMALL)]
