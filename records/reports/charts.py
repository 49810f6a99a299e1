"""Charts of the page models drawn: for a PDF page, for a PDF of their own, as SVG. The same model, the same bytes."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING, Any

from reportlab.graphics import renderPDF, renderSVG

from records.domain.chart_model import LineChart
from records.reports.chart_bars import draw_bars
from records.reports.chart_lines import draw_lines
from records.reports.chart_parts import safe
from records.reports.fonts import BOLD, REGULAR
from records.reports.layout import MARGIN, Page, paper_size, write

if TYPE_CHECKING:
    from collections.abc import Sequence

    from reportlab.graphics.shapes import Drawing
    from reportlab.pdfgen.canvas import Canvas

    from records.domain.chart_model import BarChart
    from records.reports.layout import About

WIDTH, HEIGHT = 600.0, 360.0  # points
_FAMILY = "'Noto Sans', 'DejaVu Sans', Verdana, Arial, sans-serif"


def picture(chart: LineChart | BarChart, width: float = WIDTH, height: float = HEIGHT) -> Drawing:
    """Return a chart as a drawing.

    Args:
        chart: what to draw.
        width: in points; below 200 there is no room for words.
        height: in points; likewise below 120.
    """
    if isinstance(chart, LineChart):
        return draw_lines(chart, width, height)
    return draw_bars(chart, width, height)


def svg(chart: LineChart | BarChart, width: float = WIDTH, height: float = HEIGHT) -> bytes:
    """Return a chart as SVG: text stays text, in whatever font of that kind the reader has."""
    families = {REGULAR: {"family": _FAMILY}, BOLD: {"family": _FAMILY, "weight": "bold"}}
    canvas: Any = renderSVG.SVGCanvas((width, height), fontHacks=families)
    renderSVG.draw(picture(chart, width, height), canvas)
    for name, text in (("title", safe(chart.title)), ("desc", safe(" ".join(chart.notes)))):
        canvas.svg.getElementsByTagName(name)[0].firstChild.data = text
    written = io.StringIO()
    canvas.save(written)
    return written.getvalue().encode()


def draw(canvas: Canvas, chart: LineChart | BarChart, x: float, y: float, width: float, height: float) -> None:
    """Draw a chart on a canvas, its bottom left corner at `x`, `y`."""
    renderPDF.draw(picture(chart, width, height), canvas, x, y)


def put(page: Page, chart: LineChart | BarChart, x: float, y: float, width: float, height: float) -> None:
    """Put a chart on a page, its top left corner at `x`, `y` counted from the top."""
    drawing = picture(chart, width, height)
    page.pictures.append(lambda canvas, high: renderPDF.draw(drawing, canvas, x, high - y - height))


def pdf(charts: Sequence[LineChart | BarChart], about: About, paper: str = "letter") -> bytes:
    """Return charts below each other on one page.

    Args:
        charts: at least one.
        about: title, author and so on.
        paper: `letter` or `a4`.

    Raises:
        UsageError: no such paper.
    """
    size, page = paper_size(paper), Page()
    height = min((size[1] - 2 * MARGIN) / len(charts), HEIGHT)
    for number, chart in enumerate(charts):
        put(page, chart, MARGIN, MARGIN + number * height, size[0] - 2 * MARGIN, height - 10)
    return write([page], size, about)
