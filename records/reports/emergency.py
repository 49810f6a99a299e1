"""Draws the emergency sheet on one page: whom to call, what was put out, the labels' first aid words."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

from records.domain.report_model import CUT
from records.reports.flow import LenientFlow
from records.reports.fonts import BOLD
from records.reports.layout import LEADING, MARGIN, About, Page, fitted, paper_size, wrap, write

if TYPE_CHECKING:
    from records.domain.packet_model import EmergencyModel, EmergencyVisit

SCALES = (1.15, 1.05, 0.95, 0.87)
BODY = 10.0
FOOT = 40.0
MOST_UNSEALED = 4  # entries that are told
SHORTEST = 200  # characters of a first aid text that is cut


def emergency_page(model: EmergencyModel, paper: str) -> Page:
    """Return the page: as large as it fits, the oldest visits left out where it does not."""
    size = paper_size(paper)
    for scale in SCALES:
        pages = _draw(model, size, scale)
        if len(pages) == 1:
            return pages[0]
    for count in range(len(model.visits) - 1, 0, -1):
        pages = _draw(model.newest(count), size, SCALES[-1])
        if len(pages) == 1:
            return pages[0]
    return _cut(model.newest(1), size) if model.visits else pages[0]


def _cut(model: EmergencyModel, size: tuple[float, float]) -> Page:
    """Return the page with long texts of the last visit cut, as they alone fill it."""
    for most in (1600, 800, 400, SHORTEST):
        for products in (12, 8, 5, 3):
            short = tuple(
                replace(
                    one, text=one.text if len(one.text) <= most else f"{one.text[:most].rstrip()}{CUT} (see the label)"
                )
                for one in model.first_aid[:products]
            )
            last = model.visits[0]
            left = len(last.products) - products
            told = model.left_out + (f" {left} more products of record {last.serial} are left out." if left > 0 else "")
            if len(model.first_aid) > products:
                told += (
                    f" First aid words of {len(model.first_aid) - products} more labels are left out: read the labels."
                )
            visit = replace(last, products=last.products[:products])
            pages = _draw(replace(model, visits=(visit,), first_aid=short, left_out=told.strip()), size, SCALES[-1])
            if len(pages) == 1:
                return pages[0]
    return pages[0]


def render_emergency(model: EmergencyModel, paper: str = "letter") -> bytes:
    """Return the sheet as PDF bytes, always one page; the same model gives the same bytes.

    Args:
        model: the sheet.
        paper: `letter` or `a4`.

    Raises:
        UsageError: no such paper.
    """
    title = f"{model.title}: {model.address}"
    about = About(title, model.firm.name, "Pesticide emergency sheet", "en", date.fromisoformat(model.issued_on))
    return write([emergency_page(model, paper)], paper_size(paper), about)


def _draw(model: EmergencyModel, paper: tuple[float, float], scale: float) -> list[Page]:
    flow = LenientFlow(paper, FOOT, scale)
    right = flow.left + flow.across
    size = flow.size(17)
    flow.page.text(flow.left, flow.y + size, model.title, size, BOLD)
    flow.page.right(right, flow.y + size, model.issued, 8)
    flow.y += size * 1.3
    flow.text(model.address, 14, BOLD)
    flow.page.rule(flow.left, flow.y + 2, flow.across, 1.2)
    flow.gap(8)
    _phones(flow, model)
    flow.led("Firm that applied:", f"{model.firm.name}, {model.firm.phone}", BODY)
    flow.gap(5)
    flow.heading("What was put out, newest first", 11)
    flow.text(model.span, BODY)
    if model.left_out:
        flow.text(model.left_out, BODY, BOLD)
    flow.gap(2)
    for text in model.unsealed[:MOST_UNSEALED]:
        flow.led("NOT CHECKED, may have been put out, too:", text, BODY)
    if len(model.unsealed) > MOST_UNSEALED:
        flow.text(f"and {len(model.unsealed) - MOST_UNSEALED} more entries that are not checked", BODY, BOLD)
    if model.unsealed:
        flow.gap(3)
    for visit in model.visits:
        _visit(flow, visit)
    flow.gap(4)
    if model.first_aid:
        flow.heading("First aid, in the words of the labels", 11)
    for aid in model.first_aid:
        flow.led(f"{', '.join(aid.products)}:", aid.text, BODY)
        flow.gap(2)
    _foot(flow.page, model, paper)
    return flow.pages


def _phones(flow: LenientFlow, model: EmergencyModel) -> None:
    cell = (flow.across - 8 * (len(model.phones) - 1)) / len(model.phones)
    number, small = flow.size(15), flow.size(8.4)
    told = [wrap(f"{line.name}: {line.when}", cell - 12, small) for line in model.phones]
    height = number * 1.3 + max(map(len, told)) * small * LEADING + 8
    flow.need(height)
    for place, (line, lines) in enumerate(zip(model.phones, told, strict=True)):
        x = flow.left + place * (cell + 8)
        flow.page.box(x, flow.y, cell, height, line=1.4)
        flow.page.text(x + 6, flow.y + number * 1.15, line.number, number, BOLD)
        for row, text in enumerate(lines):
            flow.page.text(x + 6, flow.y + number * 1.3 + small * (1 + row * LEADING), text, small)
    flow.y += height
    flow.gap(6)


def _visit(flow: LenientFlow, visit: EmergencyVisit) -> None:
    flow.line(f"{visit.when}; applied by {visit.who}; record {visit.serial}", BODY, BOLD)
    for product in visit.products:
        flow.led(product.name, f"{product.identity}; {product.actives}", BODY, indent=10)
        flow.text(f"{product.amount}; {product.where}", BODY, indent=20)
    flow.gap(3)


def _foot(page: Page, model: EmergencyModel, paper: tuple[float, float]) -> None:
    across, top = paper[0] - 2 * MARGIN, paper[1] - MARGIN - FOOT + 6
    page.rule(MARGIN, top, across, 0.8)
    for number, text in enumerate(wrap(" ".join(model.cautions), across, 7, most=3)):
        page.text(MARGIN, top + 9 + number * 7 * LEADING, text, 7)
    seal = f"Last seal: {model.last_seal}"
    page.text(MARGIN, top + 9 + 3 * 7 * LEADING, fitted(seal, across, 6.5), 6.5, gray=0.2)
