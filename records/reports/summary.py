"""Draws the annual summary: the year at a glance with its charts, then the tables."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from records.reports.flow import Flow
from records.reports.fonts import BOLD, REGULAR
from records.reports.layout import LEADING, MARGIN, About, Page, fitted, length, paper_size, wrap, write
from records.reports.table import GAP, Cell, Head, Row, draw_table, numeric_width, plain

if TYPE_CHECKING:
    from records.domain.report_model import Chart, Section, SummaryModel

FOOT = 34.0
BODY = 9.0
LEAST_NAME_ROOM = 130.0  # points wanted for the text columns of a table
SPARED = ("fl_oz", "oz_wt")  # said again in smaller units: left out on paper when columns are many
_UNITS = {"gal": "gal", "fl_oz": "fl oz", "lb": "lb", "oz_wt": "oz wt", "oz_kind_unknown": "oz (kind unknown)"}


def summary_pages(model: SummaryModel, paper: str) -> list[Page]:
    """Return the pages of a summary, not yet written out."""

    def carry_on(flow: Flow) -> None:
        name = fitted(f"{model.firm.name}, {model.title}", flow.across, 8, BOLD)
        flow.page.text(flow.left, flow.y + 8, name, 8, BOLD)
        flow.page.rule(flow.left, flow.y + 12, flow.across)
        flow.y += 20

    flow = Flow(paper_size(paper), FOOT, 1.0, carry_on)
    _head(flow, model)
    _glance(flow, model)
    for chart in model.charts:
        _chart(flow, chart)
    for section in model.sections:
        _section(flow, section)
    _feet(model, flow.pages, flow.paper)
    return flow.pages


def render_summary(model: SummaryModel, paper: str = "letter") -> bytes:
    """Return a summary as PDF bytes; the same model gives the same bytes.

    Args:
        model: the page model.
        paper: `letter` or `a4`.

    Raises:
        UsageError: no such paper.
        GlyphError: the fonts lack a character.
    """
    pages = summary_pages(model, paper)
    about = About(model.title, model.firm.name, model.subject, "en", date.fromisoformat(model.issued_on))
    return write(pages, paper_size(paper), about)


def _head(flow: Flow, model: SummaryModel) -> None:
    firm, page, right = model.firm, flow.page, flow.left + flow.across
    page.text(flow.left, flow.y + 16, model.title, 18, BOLD)
    page.right(right, flow.y + 16, model.issued, BODY)
    flow.y += 24
    half = flow.across / 2 - 6
    name_room = flow.across - length(firm.phone, BODY, BOLD) - 12
    page.text(flow.left, flow.y + 9, fitted(firm.name, max(name_room, half), 10.5, BOLD), 10.5, BOLD)
    page.right(right, flow.y + 9, fitted(firm.phone, half, BODY, BOLD), BODY, BOLD)
    page.text(flow.left, flow.y + 20, fitted(firm.address, half, BODY), BODY)
    page.right(right, flow.y + 20, fitted(firm.licence, half, BODY), BODY)
    page.rule(flow.left, flow.y + 26, flow.across, 1.2)
    flow.y += 34


def _glance(flow: Flow, model: SummaryModel) -> None:
    """Draw the counts in a strip of boxes, and the seal that closes the book so far."""
    cell = (flow.across - 6 * (len(model.facts) - 1)) / len(model.facts)
    for number, fact in enumerate(model.facts):
        x = flow.left + number * (cell + 6)
        flow.page.box(x, flow.y, cell, 38, line=0.8)
        flow.page.text(x + 6, flow.y + 19, fitted(fact.value, cell - 10, 15, BOLD), 15, BOLD)
        flow.page.text(x + 6, flow.y + 31, fitted(fact.label, cell - 10, 8), 8)
    flow.y += 44
    flow.led("Last seal of the book:", model.last_seal, BODY)
    flow.gap(6)


def _chart(flow: Flow, chart: Chart) -> None:
    """Draw twelve bars with their numbers above; a number that would touch its neighbour is set smaller."""
    step, height = flow.across / len(chart.labels), 84.0
    flow.need(height + 52)
    flow.gap(2)
    flow.line(chart.title, 9.5, BOLD)
    top = flow.y + 12
    base = top + height
    size = 8.0
    while size > 4.5 and max(length(value, size) for value in chart.values) > step - 4:
        size -= 0.5
    for share in (0.5, 1.0):
        flow.page.rule(flow.left, base - height * share, flow.across, 0.2, gray=0.8)
    for number, (label, value, tall) in enumerate(zip(chart.labels, chart.values, chart.heights, strict=True)):
        middle, bar = flow.left + step * (number + 0.5), height * tall / 1000
        if tall:
            flow.page.box(middle - step * 0.3, base - bar, step * 0.6, bar, fill=0.62, line=0.6)
        room = length(value, size)  # the lines of the scale do not run through a number
        flow.page.box(middle - room / 2 - 1, base - bar - 2 - size, room + 2, size, fill=1.0)
        flow.page.centre(middle, base - bar - 3, value, size)
        flow.page.centre(middle, base + 10, label, 8)
    flow.page.rule(flow.left, base, flow.across, 0.8)
    flow.y = base + 16


def _section(flow: Flow, section: Section) -> None:
    flow.gap(6)
    flow.need(90)
    flow.heading(section.title, 11)
    if not section.rows:
        flow.text("None.", BODY)
        return
    if section.key == "by_product":
        _products(flow, section)
    else:
        _plain_table(flow, section)
    if section.note:
        flow.text(section.note, 8)


def _plain_table(flow: Flow, section: Section) -> None:
    lines = [*section.rows, *([section.total] if section.total else [])]
    shown = [
        number
        for number, column in enumerate(section.columns)
        if not column.numeric or any(line[number] for line in lines)
    ]
    heads = {
        number: Head(
            section.columns[number].title,
            section.columns[number].numeric,
            _share(section.columns[number].key),
        )
        for number in shown
    }
    taken = sum(
        numeric_width(heads[number], [(Cell(line[number]),) for line in lines]) + GAP
        for number in shown
        if heads[number].numeric
    )
    if flow.across - taken < LEAST_NAME_ROOM:
        shown = [number for number in shown if section.columns[number].key not in SPARED]
    rows = [plain([line[number] for number in shown]) for line in section.rows]
    total = None if section.total is None else plain([section.total[number] for number in shown], BOLD)
    draw_table(flow, [heads[number] for number in shown], rows, total)


def _share(key: str) -> float:
    return {"serials": 2.2, "zip": 0.6, "applicator_id": 0.7}.get(key, 1.0)


def _products(flow: Flow, section: Section) -> None:
    """Draw the products with what belongs together one below the other: units of one amount, name and kind."""
    heads = (
        Head("Product, active put out", numeric=False, share=2.1),
        Head("Registration number", numeric=False),
        Head("Applications", numeric=True),
        Head("Amount", numeric=True),
        Head("Area", numeric=True),
    )
    keys = [column.key for column in section.columns]
    rows = [_product(dict(zip(keys, row, strict=True)), REGULAR) for row in section.rows]
    total = None if section.total is None else _product(dict(zip(keys, section.total, strict=True)), BOLD)
    draw_table(flow, heads, rows, total)


def _product(line: dict[str, str], font: str) -> Row:
    kind = ", ".join(filter(None, (line["kind"], line["form"], line["restricted_use"])))
    actives = tuple(Cell(active) for active in line["active_lb"].split("; ") if active)
    amounts = [Cell(f"{line[key]} {unit}", font) for key, unit in _UNITS.items() if line[key]]
    if line["without_amount"]:
        amounts.append(Cell(f"{line['without_amount']} without", font))
    areas = [Cell(f"{line[key]} {unit}", font) for key, unit in (("sq_ft", "sq ft"), ("acres", "acres")) if line[key]]
    if line["without_area"]:
        areas.append(Cell(f"{line['without_area']} without", font))
    return (
        (Cell(line["product"], BOLD), Cell(kind, font), *actives),
        (Cell(line["registration"], font),),
        (Cell(line["applications"], font),),
        tuple(amounts) or (Cell(""),),
        tuple(areas) or (Cell(""),),
    )


def _feet(model: SummaryModel, pages: list[Page], paper: tuple[float, float]) -> None:
    across, top = paper[0] - 2 * MARGIN, paper[1] - MARGIN - FOOT + 8
    for number, page in enumerate(pages, start=1):
        told = f"{model.title}  ·  Page {number} of {len(pages)}"
        page.rule(MARGIN, top, across, 0.8)
        page.right(paper[0] - MARGIN, top + 10, told, 7.5)
        room = across - length(told, 7.5) - 14
        page.text(MARGIN, top + 10, fitted(f"Last seal: {model.last_seal}", room, 7), 7, gray=0.15)
        y = top + 20
        for text in wrap(" ".join(model.cautions), across, 7, REGULAR, 2):
            page.text(MARGIN, y, text, 7, gray=0.15)
            y += 7 * LEADING
