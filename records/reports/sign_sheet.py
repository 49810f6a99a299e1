"""Draws the work sheet for a lawn sign: one page, for the person who puts it up."""

from __future__ import annotations

from typing import TYPE_CHECKING

from records.reports.flow import Flow
from records.reports.fonts import BOLD, REGULAR
from records.reports.layout import LEADING, MARGIN, About, Page, fitted, length, paper_size, wrap, write

if TYPE_CHECKING:
    from records.services.signs import SignRule, SignSheet

SCALES = (1.1, 1.0, 0.9, 0.8, 0.72, 0.66)
NAMES = 104.0  # width of the names of facts
FOOT = 26.0


def sign_pages(model: SignSheet, paper: str = "letter") -> list[Page]:
    """Return the pages of the sheet: one, the text as large as fits."""
    size = paper_size(paper)
    pages: list[Page] = []
    for scale in SCALES:
        pages = _draw(model, size, scale)
        if len(pages) == 1:
            break
    across, top = size[0] - 2 * MARGIN, size[1] - MARGIN - FOOT + 6
    for page in pages:
        page.rule(MARGIN, top, across, 0.8)
        y = top + 10
        for line in wrap(" ".join(model.cautions), across, 7.4, REGULAR, 2):
            page.text(MARGIN, y, line, 7.4, gray=0.15)
            y += 7.4 * LEADING
    return pages


def render_sign_sheet(model: SignSheet, paper: str = "letter") -> bytes:
    """Return the sheet as PDF bytes; the same model gives the same bytes.

    Args:
        model: what it says.
        paper: `letter` or `a4`.

    Raises:
        UsageError: no such paper.
        GlyphError: the fonts lack a character.
    """
    title = f"{model.title}, {model.place}"
    about = About(title, model.firm, "What the lawn sign has to be, and when it may come down", "en", model.day)
    return write(sign_pages(model, paper), paper_size(paper), about)


def _draw(model: SignSheet, paper: tuple[float, float], scale: float) -> list[Page]:
    flow = Flow(paper, FOOT, scale)
    right = flow.left + flow.across
    room = flow.across - length(model.phone, 11, BOLD) - 12
    flow.page.text(flow.left, flow.y + 11, fitted(model.firm, room, 11, BOLD), 11, BOLD)
    flow.page.right(right, flow.y + 11, fitted(model.phone, flow.across / 2, 11, BOLD), 11, BOLD)
    flow.page.rule(flow.left, flow.y + 17, flow.across, 1.2)
    flow.y += 26
    flow.text(model.title, 16, BOLD)
    flow.text(model.place, 12, BOLD)
    record = f"record {model.serial}, " if model.serial else ""
    flow.text(f"{record}rules of {model.state or 'no state'} in force on {model.day}", 10)
    flow.gap(8)
    if model.due_out:
        flow.open_box(1.6)
        flow.gap(6)
        flow.text("MAY COME DOWN, NOT BEFORE", 9, BOLD, indent=10, inset=10)
        flow.text(model.due_out, 20, BOLD, indent=10, inset=10)
        flow.gap(6)
        flow.close_box()
        flow.gap(8)
    if model.missing:
        flow.open_box(1.6)
        flow.gap(6)
        flow.text(model.missing, 12, BOLD, indent=10, inset=10)
        flow.gap(6)
        flow.close_box()
        flow.gap(8)
    for rule in model.rules:
        flow.gap(4)
        flow.heading(rule.heading, 10)
        _lines(flow, rule)
        _rows(flow, rule.rows)
        flow.text(rule.url, 7.5)
    if model.also:
        flow.gap(6)
        flow.heading("The rules also say", 10)
        for line in model.also:
            flow.led("•", line, 9.5)
    _log(flow, model)
    return flow.pages


def _lines(flow: Flow, rule: SignRule) -> None:
    """Write what stands on the sign, line by line, as it would stand there."""
    if not rule.lines:
        return
    flow.gap(2)
    flow.text("Write on the sign:", 10, BOLD)
    flow.open_box(1.0)
    flow.gap(5)
    for line in rule.lines:
        if line.text:
            flow.text(line.text, 13, BOLD, indent=12, inset=12)
        if line.note:
            flow.text(f"({line.note})", 8.5, indent=12, inset=12)
    flow.gap(5)
    flow.close_box()
    flow.gap(5)


def _rows(flow: Flow, rows: tuple[tuple[str, str], ...]) -> None:
    names = NAMES * flow.scale
    size = flow.size(11)
    for name, value in rows:
        lines = wrap(value, flow.across - names, size)
        flow.need(size * LEADING * len(lines))
        flow.page.text(flow.left, flow.y + size * 0.97, f"{name}:", size, BOLD)
        for line in lines:
            flow.page.text(flow.left + names, flow.y + size * 0.97, line, size)
            flow.y += size * LEADING
        flow.gap(2)


def _log(flow: Flow, model: SignSheet) -> None:
    flow.gap(8)
    flow.heading("At this site", 10)
    if model.recorded:
        flow.text(f"The record says that the sign stays up until {model.recorded}.", 10)
    for line in model.log:
        flow.led("•", line, 10)
    for blank in ("Put up (date, time, by):", "Taken down (date, time, by):"):
        flow.need(flow.size(22))
        flow.gap(16)
        size = flow.size(10)
        flow.page.text(flow.left, flow.y, blank, size, BOLD)
        start = flow.left + length(blank, size, BOLD) + 6
        flow.page.rule(start, flow.y + 1.5, flow.left + flow.across - start, 0.5)
