"""Fills pages from top to bottom: breaks where a page is full, repeats head and foot, keeps boxes closed."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from records.reports.fonts import BOLD, REGULAR, drawable
from records.reports.layout import LEADING, MARGIN, Page, fitted, length, wrap

if TYPE_CHECKING:
    from collections.abc import Callable


@dataclass(slots=True)
class Flow:
    """A cursor over pages of one size."""

    paper: tuple[float, float]
    foot: float  # height kept free at the bottom of every page
    scale: float = 1.0
    on_new_page: Callable[[Flow], None] | None = None  # draws the head of pages after the first
    pages: list[Page] = field(default_factory=lambda: [Page()])
    y: float = MARGIN
    _box: tuple[float, float] | None = None  # top of the open box, thickness of its line

    @property
    def page(self) -> Page:
        """Return the page being filled."""
        return self.pages[-1]

    @property
    def left(self) -> float:
        """Return the left edge of the text."""
        return MARGIN

    @property
    def across(self) -> float:
        """Return the width of the text."""
        return self.paper[0] - 2 * MARGIN

    @property
    def bottom(self) -> float:
        """Return where the foot begins."""
        return self.paper[1] - MARGIN - self.foot

    def size(self, points: float) -> float:
        """Return a font size at this page's scale, to a tenth of a point."""
        return round(points * self.scale, 1)

    def gap(self, points: float) -> None:
        """Leave room."""
        self.y += points * self.scale

    def need(self, height: float) -> None:
        """Begin a new page unless so much room is left."""
        if self.y + height > self.bottom and self.y > MARGIN:
            self.turn()

    def turn(self) -> None:
        """Begin a new page; an open box is closed on this one and opened again on the next."""
        box = self._box
        if box is not None:
            self._draw_box(self.y + 4)
        self.pages.append(Page())
        self.y = MARGIN
        if self.on_new_page is not None:
            self.on_new_page(self)
        if box is not None:
            self._box = (self.y, box[1])
            self.y += 4

    def open_box(self, line: float) -> None:
        """Begin a box around what follows."""
        self._box = (self.y, line)

    def close_box(self) -> None:
        """End the box here."""
        self._draw_box(self.y)

    def _draw_box(self, bottom: float) -> None:
        if self._box is not None:
            top, line = self._box
            self.page.box(self.left, top, self.across, bottom - top, line=line)
            self._box = None

    def head(self, title: str, right: str, points: float) -> None:
        """Write the title of a document, what stands at its right edge, and a rule under both."""
        told = fitted(drawable(right), self.across * 0.45, points)
        room = self.across - length(told, points) - 12
        self.page.text(self.left, self.y + 15, fitted(drawable(title), room, 15.0, BOLD), 15.0, BOLD)
        self.page.right(self.left + self.across, self.y + 15, told, points)
        self.y += 20
        self.page.rule(self.left, self.y, self.across, 1.0)

    def line(self, text: str, points: float, font: str = REGULAR, *, x: float | None = None, gray: float = 0.0) -> None:
        """Write one line and go below it."""
        size = self.size(points)
        self.need(size * LEADING)
        self.page.text(self.left if x is None else x, self.y + size * 0.97, text, size, font, gray)
        self.y += size * LEADING

    def text(self, text: str, points: float, font: str = REGULAR, *, indent: float = 0.0, inset: float = 0.0) -> None:
        """Write a paragraph over the full width.

        Args:
            text: the words.
            points: size before scaling.
            font: name of the font.
            indent: room left of it.
            inset: room right of it.
        """
        for line in wrap(text, self.across - indent - inset, self.size(points), font):
            self.line(line, points, font, x=self.left + indent)

    def led(self, lead: str, text: str, points: float, *, indent: float = 0.0, inset: float = 0.0) -> None:
        """Write a paragraph that begins with bold words."""
        size, x = self.size(points), self.left + indent
        across = self.across - indent - inset
        hanging = length(f"{lead} ", size, BOLD) if lead else 0.0
        if hanging > across * 0.6:
            self.text(lead, points, BOLD, indent=indent, inset=inset)
            hanging, lead = 0.0, ""
        lines = _beside(text, across, hanging, size)
        for number, line in enumerate(lines):
            self.need(size * LEADING)
            baseline = self.y + size * 0.97
            if number == 0:
                self.page.text(x, baseline, lead, size, BOLD)
            self.page.text(x + (hanging if number == 0 else 0.0), baseline, line, size)
            self.y += size * LEADING

    def heading(self, text: str, points: float = 9.5) -> None:
        """Write a heading with a rule below it, together with room for two lines of what follows."""
        size = self.size(points)
        self.need(size * LEADING * 3 + 4)
        for line in wrap(text, self.across, size, BOLD):
            self.line(line, points, BOLD)
        self.page.rule(self.left, self.y + 0.5, self.across, 0.6)
        self.y += 3.5 * self.scale


class LenientFlow(Flow):
    """A cursor that writes the code of a character the fonts lack; for what has to come out whatever a record holds."""

    __slots__ = ()

    def line(self, text: str, points: float, font: str = REGULAR, *, x: float | None = None, gray: float = 0.0) -> None:
        """Write one line and go below it."""
        Flow.line(self, drawable(text), points, font, x=x, gray=gray)

    def text(self, text: str, points: float, font: str = REGULAR, *, indent: float = 0.0, inset: float = 0.0) -> None:
        """Write a paragraph."""
        Flow.text(self, drawable(text), points, font, indent=indent, inset=inset)

    def led(self, lead: str, text: str, points: float, *, indent: float = 0.0, inset: float = 0.0) -> None:
        """Write a paragraph that begins with bold words."""
        Flow.led(self, drawable(lead), drawable(text), points, indent=indent, inset=inset)


def _beside(text: str, across: float, hanging: float, size: float) -> list[str]:
    """Wrap a text whose first line begins further right."""
    if not hanging:
        return list(wrap(text, across, size))
    first = wrap(text, across - hanging, size)
    if len(first) <= 1:
        return list(first) or [""]
    rest = text[len(first[0]) :].lstrip()
    return [first[0], *wrap(rest, across, size)]
