"""What charts are made of: texts checked and measured, marks, dashes, hatching; readable in black and white."""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, pi, sin
from typing import TYPE_CHECKING, Literal

from reportlab.graphics.shapes import Circle, Drawing, Line, Polygon, Rect, String
from reportlab.lib.colors import Color

from records.domain.quantities import format_number
from records.domain.report_model import one_line
from records.reports.fonts import BOLD, REGULAR, drawable, face
from records.reports.layout import fitted, length, wrap

if TYPE_CHECKING:
    from collections.abc import Sequence
    from fractions import Fraction

TITLE, TEXT, SMALL = 10.0, 8.0, 7.0  # points
LEADING = 1.3
BLACK, GRAY, PALE, WHITE = (Color(part, part, part) for part in (0.0, 0.45, 0.82, 1.0))
NO_DATA = "no data"
# Five marks, each filled and open, and four dashes: forty lines before two look alike.
MARKS = ("circle", "square", "triangle", "diamond", "cross")
DASHES: tuple[list[int] | None, ...] = (None, [5, 2], [1, 2], [6, 2, 1, 2])
HATCHES = ("slant", "plain", "back", "dense", "white")


def safe(text: str) -> str:
    """Return a text that can be drawn, on one line, with nothing in it that steers."""
    face(REGULAR), face(BOLD)
    return drawable(one_line(text))


def number(value: Fraction) -> str:
    """Return a number of an axis."""
    return format_number(value, 4)


@dataclass(frozen=True, slots=True)
class Scale:
    """Numbers of an axis, and where they lie."""

    numbers: tuple[Fraction, ...]
    start: float
    size: float

    def at(self, value: Fraction) -> float:
        """Return where a value lies; one beyond the axis lies on its end."""
        first, last = self.numbers[0], self.numbers[-1]
        return self.start + float((min(max(value, first), last) - first) / (last - first)) * self.size


class Sheet:
    """A drawing that is being filled; positions count from the bottom left, in points."""

    def __init__(self, width: float, height: float) -> None:
        """Begin an empty one."""
        face(REGULAR), face(BOLD)
        self.drawing = Drawing(width, height)
        self.width, self.height = width, height

    def text(
        self,
        x: float,
        y: float,
        text: str,
        size: float = TEXT,
        *,
        anchor: Literal["start", "middle", "end"] = "start",
        font: str = REGULAR,
        room: float | None = None,
    ) -> None:
        """Put a text with its baseline at `y`, cut to the room it has."""
        shown = safe(text) if room is None else fitted(safe(text), room, size, font)
        if shown:
            # On halves: the SVG writer turns texts over at whole numbers
            y = round(y * 2) / 2
            self.drawing.add(
                String(round(x, 2), y, shown, fontName=font, fontSize=size, fillColor=BLACK, textAnchor=anchor)
            )

    def line(
        self,
        start: tuple[float, float],
        end: tuple[float, float],
        thickness: float = 0.6,
        color: Color = BLACK,
        dashes: list[int] | None = None,
    ) -> None:
        """Put a straight line."""
        line = Line(*start, *end, strokeWidth=thickness, strokeColor=color, strokeLineCap=0)
        if dashes is not None:
            line.strokeDashArray = dashes
        self.drawing.add(line)

    def mark(self, x: float, y: float, index: int, size: float = 3.0) -> None:
        """Put the mark of the line with this number."""
        kind, is_open = MARKS[index % len(MARKS)], index // len(MARKS) % 2 == 1
        fill = WHITE if is_open else BLACK
        if kind == "circle":
            self.drawing.add(Circle(x, y, size * 0.9, fillColor=fill, strokeColor=BLACK, strokeWidth=0.8))
        elif kind == "cross":
            thickness = 0.7 if is_open else 1.5
            self.line((x - size, y - size), (x + size, y + size), thickness)
            self.line((x - size, y + size), (x + size, y - size), thickness)
        else:
            corners, turn, reach = {
                "square": (4, pi / 4, 1.2),
                "triangle": (3, pi / 2, 1.3),
                "diamond": (4, pi / 2, 1.35),
            }[kind]
            points: list[float] = []
            for corner in range(corners):
                angle = turn + 2 * pi * corner / corners
                points += [round(x + size * reach * cos(angle), 3), round(y + size * reach * sin(angle), 3)]
            self.drawing.add(Polygon(points, fillColor=fill, strokeColor=BLACK, strokeWidth=0.8))

    def bar(self, left: float, bottom: float, across: float, up: float, index: int) -> None:
        """Put a bar with the hatching of this number, outlined."""
        kind = HATCHES[index % len(HATCHES)]
        fill = PALE if kind == "plain" else WHITE
        inside = Rect(left, bottom, across, up)
        inside.fillColor, inside.strokeColor = fill, None
        self.drawing.add(inside)
        slopes = {"slant": (1, 4.5), "back": (-1, 4.5), "dense": (1, 2.2)}
        if kind in slopes:
            slope, gap = slopes[kind]
            self._slant(left, bottom, across, up, slope, gap)
        outline = Rect(left, bottom, across, up)
        outline.fillColor, outline.strokeColor, outline.strokeWidth = None, BLACK, 0.8
        self.drawing.add(outline)

    def _slant(self, left: float, bottom: float, across: float, up: float, slope: int, gap: float) -> None:
        """Fill a rectangle with slanting lines, each cut at its edges."""
        offset = -up + gap
        while offset < across:
            start, end = max(0.0, -offset), min(up, across - offset)
            if end > start:
                first, last = (
                    (left + offset + part, bottom + (part if slope > 0 else up - part)) for part in (start, end)
                )
                self.line(first, last, 0.5)
            offset += gap

    def span(self, low: tuple[float, float], high: tuple[float, float], *, halo: bool = False) -> None:
        """Put a line between two ends with a cap at each: how far a value may be off."""
        lies = low[1] == high[1]
        if halo:
            self.line(low, high, 2.6, WHITE)
        self.line(low, high, 0.7)
        for x, y in (low, high):
            cap = ((x, y - 2.2), (x, y + 2.2)) if lies else ((x - 2.2, y), (x + 2.2, y))
            if halo:
                self.line(*cap, thickness=2.2, color=WHITE)
            self.line(*cap, thickness=0.7)

    def head(self, title: str) -> float:
        """Write the title, two lines at most, and return what lies below."""
        y = self.height - 2
        for line in wrap(safe(title), self.width - 4, TITLE, BOLD, 2):
            y -= TITLE * 1.2
            self.text(2, y + 2, line, TITLE, font=BOLD)
        return y - 2

    def foot(self, notes: Sequence[str], most: int = 4) -> float:
        """Write notes at the bottom, so many lines at most, and return what lies above."""
        lines = [line for note in notes for line in wrap(safe(note), self.width - 4, SMALL)]
        if len(lines) > most:
            lines = [*lines[: most - 1], f"and {len(lines) - most + 1} more lines of notes"]
        y = 3.0
        for line in reversed(lines):
            self.text(2, y, line, SMALL)
            y += SMALL * LEADING
        return y


def spread(wanted: Sequence[float], gap: float, low: float, high: float) -> list[float]:
    """Return places near those wanted, in their order, at least a gap apart, between two bounds.

    Args:
        wanted: ascending.
        gap: between neighbours.
        low: least place.
        high: greatest; there has to be room for all.
    """
    groups: list[tuple[list[float], float]] = []  # members, place of the first
    for place in wanted:
        groups.append(([place], place))
        while True:
            members, _ = groups[-1]
            # A group stands where its members want to be on average
            first = sum(member - gap * rank for rank, member in enumerate(members)) / len(members)
            first = min(max(first, low), max(low, high - gap * (len(members) - 1)))
            groups[-1] = (members, first)
            if len(groups) < 2 or groups[-2][1] + gap * len(groups[-2][0]) <= first + 1e-9:
                break
            before, _ = groups.pop(-2)
            groups[-1] = (before + members, 0.0)
    return [first + gap * rank for members, first in groups for rank in range(len(members))]


def measure(text: str, size: float = TEXT, font: str = REGULAR) -> float:
    """Return how long a text is once it can be drawn."""
    return length(safe(text), size, font)
