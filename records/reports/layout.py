"""Pages as lists of things to draw, and the one place that gives them to ReportLab.

Text goes to the page as it is: no paragraph markup is ever read from it. Positions count from the top left corner, in
points. A page holds its shapes and its strings apart, so that "page x of y" can be written once y is known, and each
page is put out in one text object, which is quicker than a call for each string.
"""

from __future__ import annotations

import io
import time
from calendar import timegm
from dataclasses import dataclass, field
from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple

from reportlab.pdfgen.canvas import Canvas

from records.domain.report_model import CUT
from records.errors import UsageError
from records.reports.fonts import BOLD, REGULAR, face, width

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import date

PAPERS = {"letter": (612.0, 792.0), "a4": (595.276, 841.89)}  # points; ISO 216 A4 is 210 mm by 297 mm
MARGIN = 36.0
LEADING = 1.24
SPACE = " "


class Text(NamedTuple):
    """One string on a page; `y` is its baseline."""

    x: float
    y: float
    text: str
    font: str
    size: float
    gray: float


class Shape(NamedTuple):
    """A rectangle: filled, outlined, or thin enough to be a rule."""

    x: float
    y: float
    width: float
    height: float
    fill: float | None
    line: float | None


@dataclass(slots=True)
class Page:
    """What stands on one page."""

    shapes: list[Shape] = field(default_factory=list)
    texts: list[Text] = field(default_factory=list)
    pictures: list[Callable[[Canvas, float], None]] = field(default_factory=list)  # given the height of the page

    def text(self, x: float, y: float, text: str, size: float, font: str = REGULAR, gray: float = 0.0) -> None:
        """Put a string with its baseline at `y`; every character of it has been checked by then."""
        if text:
            width(text, font)
            self.texts.append(Text(x, y, text, font, size, gray))

    def right(self, x: float, y: float, text: str, size: float, font: str = REGULAR, gray: float = 0.0) -> None:
        """Put a string that ends at `x`."""
        self.text(x - length(text, size, font), y, text, size, font, gray)

    def centre(self, x: float, y: float, text: str, size: float, font: str = REGULAR, gray: float = 0.0) -> None:
        """Put a string with its middle at `x`."""
        self.text(x - length(text, size, font) / 2, y, text, size, font, gray)

    def box(
        self,
        x: float,
        y: float,
        across: float,
        down: float,
        *,
        fill: float | None = None,
        line: float | None = None,
    ) -> None:
        """Put a rectangle with its top left corner at `x`, `y`."""
        self.shapes.append(Shape(x, y, across, down, fill, line))

    def rule(self, x: float, y: float, across: float, thickness: float = 0.5, gray: float = 0.0) -> None:
        """Put a horizontal rule."""
        self.shapes.append(Shape(x, y, across, thickness, gray, None))


def length(text: str, size: float, font: str = REGULAR) -> float:
    """Return how long a string is, in points."""
    return width(text, font) * size / 1000


def paper_size(paper: str) -> tuple[float, float]:
    """Return width and height of a paper in points.

    Raises:
        UsageError: no such paper.
    """
    try:
        return PAPERS[paper.lower()]
    except KeyError:
        raise UsageError(f"paper {paper!r} is not known", f"Use one of: {', '.join(PAPERS)}") from None


@lru_cache(maxsize=16384)
def wrap(text: str, across: float, size: float, font: str = REGULAR, most: int = 0) -> tuple[str, ...]:
    """Break a text into lines at its blanks; a word wider than the line is broken behind a hyphen, else anywhere.

    Args:
        text: one line of text.
        across: width to fill, in points.
        size: of the font, in points.
        font: name of the registered font.
        most: lines kept; the last one then ends with an ellipsis. 0: all.
    """
    room = int(across * 1000 / size)
    if width(text, font) <= room:
        return (text,) if text else ()
    lines: list[str] = []
    line: list[str] = []
    used, blank = 0, width(SPACE, font)
    for word in text.split(SPACE):
        for piece in _pieces(word, room, font):
            need = width(piece, font)
            if line and used + blank + need > room:
                lines.append(SPACE.join(line))
                line, used = [], 0
            used += need + (blank if line else 0)
            line.append(piece)
        if most and len(lines) > most:
            break
    if line:
        lines.append(SPACE.join(line))
    if most and len(lines) > most:
        lines = [*lines[: most - 1], fitted(f"{lines[most - 1]} {CUT}{CUT}", across, size, font)]
    return tuple(lines)


def _pieces(word: str, room: int, font: str) -> list[str]:
    if width(word, font) <= room:
        return [word]
    widths, pieces, start, used = face(font).widths, [], 0, 0
    for index, character in enumerate(word):
        used += widths[character]
        if used > room and index > start:
            cut = word.rfind("-", start, index) + 1 or index  # behind a hyphen where there is one
            pieces.append(word[start:cut])
            start, used = cut, sum(widths[kept] for kept in word[cut : index + 1])
    return [*pieces, word[start:]]


@lru_cache(maxsize=16384)
def fitted(text: str, across: float, size: float, font: str = REGULAR) -> str:
    """Return the text cut to a width, with an ellipsis where something was cut off."""
    room = int(across * 1000 / size)
    if width(text, font) <= room:
        return text
    widths = face(font).widths
    used, kept = widths[CUT], 0
    for character in text:
        used += widths[character]
        if used > room:
            break
        kept += 1
    return text[:kept].rstrip(f" {CUT}") + CUT


@dataclass(frozen=True, slots=True)
class About:
    """What a PDF says of itself."""

    title: str
    author: str
    subject: str
    language: str
    issued_on: date


class Stamp:
    """The moment written into a PDF, in the shape ReportLab keeps its own: midnight UTC of the day of issue."""

    def __init__(self, day: date) -> None:
        self.t = timegm(day.timetuple())
        self.lt = tuple(time.gmtime(self.t))
        self.YMDhms = self.lt[:6]
        self.dhh = self.dmm = 0
        self.tzname = "UTC"


def write(pages: list[Page], paper: tuple[float, float], about: About) -> bytes:
    """Return the pages as a PDF; the same pages give the same bytes.

    Args:
        pages: in order.
        paper: width and height in points.
        about: title, author and so on.
    """
    face(REGULAR), face(BOLD)
    target = io.BytesIO()
    canvas = Canvas(target, pagesize=paper, pageCompression=1, invariant=1, lang=about.language)
    # `invariant` alone would stamp the year 2000, and ReportLab reads a real date from the environment only.
    vars(vars(canvas)["_doc"])["_timeStamp"] = Stamp(about.issued_on)
    canvas.setTitle(about.title)
    canvas.setAuthor(about.author)
    canvas.setSubject(about.subject)
    canvas.setCreator("Swathbook")
    canvas.setViewerPreference("DisplayDocTitle", "true")
    for page in pages:
        _put(canvas, page, paper[1])
        canvas.showPage()
    canvas.save()
    return target.getvalue()


def _put(canvas: Canvas, page: Page, height: float) -> None:
    for shape in page.shapes:
        if shape.fill is not None:
            canvas.setFillGray(shape.fill)
        if shape.line is not None:
            canvas.setLineWidth(shape.line)
        canvas.rect(
            shape.x,
            height - shape.y - shape.height,
            shape.width,
            shape.height,
            stroke=int(shape.line is not None),
            fill=int(shape.fill is not None),
        )
    for picture in page.pictures:
        canvas.saveState()
        picture(canvas, height)
        canvas.restoreState()
    put = canvas.beginText(0, 0)
    now: tuple[str, float] | None = None
    gray: float | None = None
    for x, y, text, font, size, wanted in page.texts:
        if (font, size) != now:
            put.setFont(font, size)
            now = (font, size)
        if wanted != gray:
            put.setFillGray(wanted)
            gray = wanted
        put.setTextOrigin(x, height - y)
        put.textOut(text)
    canvas.drawText(put)
