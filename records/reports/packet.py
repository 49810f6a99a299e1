"""Draws a packet for a records inspection into a file, page by page as the records come."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from records.reports.flow import Flow, LenientFlow
from records.reports.fonts import BOLD, REGULAR, drawable
from records.reports.layout import LEADING, MARGIN, About, Page, fitted, length, paper_size, wrap
from records.reports.packet_table import draw_packet_table
from records.reports.stream import PageStream

if TYPE_CHECKING:
    from records.domain.packet_model import PacketModel, RecordPart, RevisionPart
    from records.domain.report_model import Fact
    from records.reports.stream import Bytes

FOOT = 32.0
BODY = 9.0
SIZE = 7.4  # of the facts of a record
STEP = SIZE * LEADING
LABEL = 84.0  # room for the name of a fact
GUTTER = 12.0
WIDE = 2  # lines that a fact may take in half the width; a longer one gets all of it
MOST_LINES = 60


@dataclass(slots=True)
class StreamFlow(LenientFlow):
    """A cursor whose full pages go out at once."""

    out: PageStream | None = None

    def turn(self) -> None:
        """Put the page out and begin a new one."""
        self.put()
        self.pages = [Page()]
        self.y = MARGIN
        if self.on_new_page is not None:
            self.on_new_page(self)

    def put(self) -> None:
        """Number the page and put it out."""
        if self.out is None:
            return
        right = MARGIN + self.across - length("of 99999", 7.5)
        self.page.right(right - 2, self.paper[1] - MARGIN - FOOT + 17, f"Page {self.out.pages + 1}", 7.5)
        self.out.put(self.page)


class PacketPdf:
    """A packet as PDF (a `PacketSink`); the same packet gives the same bytes."""

    stream = PageStream  # what puts the pages out

    def __init__(self, target: Bytes, paper: str) -> None:
        """Draw into a stream of bytes.

        Args:
            target: only ever written forward.
            paper: `letter` or `a4`.

        Raises:
            UsageError: no such paper.
        """
        self._target, self._paper = target, paper_size(paper)
        self._model: PacketModel | None = None
        self._flow: StreamFlow | None = None
        self._continued = ""

    def begin(self, model: PacketModel) -> None:
        """Draw the cover and every table."""
        about = About(model.title, model.firm.name, model.subject, "en", date.fromisoformat(model.issued_on))
        self._model = model
        out = self.stream(self._target, self._paper, about)
        self._flow = flow = StreamFlow(self._paper, FOOT, 1.0, self._head, out=out)
        _cover(flow, model)
        for table in model.tables:
            draw_packet_table(flow, table)
        flow.gap(8)
        flow.need(120)
        flow.heading(f"Records ({model.counts[0].value})", 11)
        flow.text(
            "Each record first holds what its rules ask for, in the order of the rules, then everything else. Where a "
            "record has several treatments or products, they are marked A, B and 1, 2. A character that the fonts of "
            "this page lack is told by its code, such as [U+1F331].",
            SIZE,
        )
        flow.gap(4)

    @property
    def pages(self) -> int:
        """Return how many pages were put out."""
        return 0 if self._flow is None or self._flow.out is None else self._flow.out.pages

    def record(self, part: RecordPart) -> None:
        """Draw one record."""
        assert self._flow is not None  # noqa: S101 - begin comes first
        self._continued = ""
        _record(self._flow, part, self._carry)
        self._continued = ""

    def end(self) -> None:
        """Write what closes the file."""
        assert self._flow is not None  # noqa: S101 - begin comes first
        assert self._flow.out is not None  # noqa: S101 - set with it
        self._flow.put()
        self._flow.out.close(self._foot)

    def _carry(self, serial: str) -> None:
        self._continued = f"{serial}, continued"

    def _head(self, flow: Flow) -> None:
        """Head the pages after the first."""
        assert self._model is not None  # noqa: S101 - begin comes first
        name = fitted(drawable(f"{self._model.firm.name}, {self._model.title}"), flow.across * 0.7, 8, BOLD)
        flow.page.text(flow.left, flow.y + 8, name, 8, BOLD)
        flow.page.right(flow.left + flow.across, flow.y + 8, self._continued, 8)
        flow.page.rule(flow.left, flow.y + 12, flow.across)
        flow.y += 20

    def _foot(self, pages: int) -> Page:
        """Draw what stands at the foot of every page."""
        assert self._model is not None  # noqa: S101 - begin comes first
        model, page, across = self._model, Page(), self._paper[0] - 2 * MARGIN
        top = self._paper[1] - MARGIN - FOOT + 7
        page.rule(MARGIN, top, across, 0.8)
        right = MARGIN + across - length("of 99999", 7.5)
        page.text(right, top + 10, f"of {pages}", 7.5)
        room = across - length("Page 99999 of 99999", 7.5) - 14
        page.text(MARGIN, top + 10, fitted(f"Last seal: {model.last_seal}", room, 7), 7, gray=0.15)
        for number, text in enumerate(wrap(" ".join(model.cautions[:2]), across, 6.4, REGULAR, 2)):
            page.text(MARGIN, top + 19 + number * 8, text, 6.4, gray=0.15)
        return page


def _cover(flow: Flow, model: PacketModel) -> None:
    firm, page, right = model.firm, flow.page, flow.left + flow.across
    page.text(flow.left, flow.y + 16, model.title, 18, BOLD)
    page.right(right, flow.y + 16, model.issued, BODY)
    flow.y += 24
    half = flow.across / 2 - 6
    page.text(flow.left, flow.y + 9, fitted(drawable(firm.name), half, 10.5, BOLD), 10.5, BOLD)
    page.right(right, flow.y + 9, fitted(drawable(firm.phone), half, BODY, BOLD), BODY, BOLD)
    page.text(flow.left, flow.y + 20, fitted(drawable(firm.address), half, BODY), BODY)
    page.right(right, flow.y + 20, fitted(drawable(firm.licence), half, BODY), BODY)
    page.rule(flow.left, flow.y + 26, flow.across, 1.2)
    flow.y += 36
    for fact in model.asked:
        _led(flow, fact)
    flow.gap(6)
    _counts(flow, model)
    flow.led("Last seal of the book:", model.last_seal, BODY)
    if model.seed:
        flow.led("Seed of the random pull:", model.seed, BODY)
        flow.text(
            "To repeat it: for each record that matches, take SHA-256 of the seed, a line break and the serial; those "
            "with the smallest digests are picked.",
            8,
        )
    flow.gap(3)
    for text in model.cautions:
        flow.text(text, 8)


def _led(flow: Flow, fact: Fact) -> None:
    flow.led(f"{fact.label}:", fact.value, BODY)


def _counts(flow: Flow, model: PacketModel) -> None:
    cell = (flow.across - 5 * (len(model.counts) - 1)) / len(model.counts)
    for number, fact in enumerate(model.counts):
        x = flow.left + number * (cell + 5)
        flow.page.box(x, flow.y, cell, 36, line=0.8)
        flow.page.text(x + 5, flow.y + 18, fitted(fact.value, cell - 8, 14, BOLD), 14, BOLD)
        flow.page.text(x + 5, flow.y + 30, fitted(fact.label, cell - 8, 7.5), 7.5)
    flow.y += 44


def _record(flow: Flow, part: RecordPart, carry: object) -> None:
    assert callable(carry)  # noqa: S101 - names the record on the pages it runs over to
    flow.need(STEP * 9 + 24)
    carry(part.serial)
    page = flow.page
    page.box(flow.left, flow.y, flow.across, 13, fill=0.88)
    state = part.state.upper()
    page.text(flow.left + 4, flow.y + 9.6, part.serial, 9, BOLD)
    x = flow.left + 10 + length(part.serial, 9, BOLD)
    room = flow.left + flow.across - 4 - x - (length(state, 8, BOLD) + 8 if state else 0)
    page.text(x, flow.y + 9.6, fitted(drawable(part.heading), room, 8.5), 8.5)
    page.right(flow.left + flow.across - 4, flow.y + 9.6, state, 8, BOLD)
    flow.y += 15
    flow.line(f"What the rules ask for ({part.judged_by})", 7, BOLD, gray=0.2)
    _grid(flow, part.rule)
    if part.other:
        flow.gap(1.5)
        flow.line("Also in the record", 7, BOLD, gray=0.2)
        _grid(flow, part.other)
    for text in part.deviation:
        flow.text(text, SIZE, BOLD)
    for text in part.findings:
        flow.led("Finding", text, SIZE)
    for revision in part.revisions:
        _revision(flow, revision)
    flow.gap(7)


def _revision(flow: Flow, part: RevisionPart) -> None:
    by = f" by {part.who}" if part.who else ""
    why = f": {part.reason}" if part.reason else ""
    flow.led(f"Revision {part.number}", f"{part.action} {part.sealed_at}{by}{why}; seal {part.seal}", SIZE)
    for change in part.changes:
        flow.text(f"{change.what}: {change.before} -> {change.after}", SIZE, indent=14)


def _grid(flow: Flow, facts: tuple[Fact, ...]) -> None:
    """Draw named values in two columns, in rows from left to right; long ones over the whole width."""
    half = (flow.across - GUTTER) / 2
    room = half - LABEL
    waiting: tuple[Fact, tuple[str, ...]] | None = None
    for fact in facts:
        font = BOLD if fact.missing else REGULAR
        value = drawable(fact.value)
        lines = wrap(value, room, SIZE, font)
        if len(lines) > WIDE:
            if waiting is not None:
                _pair(flow, half, waiting, None)
                waiting = None
            _pair(flow, half, (fact, wrap(value, flow.across - LABEL, SIZE, font, MOST_LINES)), None)
        elif waiting is None:
            waiting = fact, lines
        else:
            _pair(flow, half, waiting, (fact, lines))
            waiting = None
    if waiting is not None:
        _pair(flow, half, waiting, None)


def _pair(
    flow: Flow, half: float, left: tuple[Fact, tuple[str, ...]], right: tuple[Fact, tuple[str, ...]] | None
) -> None:
    height = STEP * max(len(left[1]), len(right[1]) if right else 0, 1)
    flow.need(height)
    page, top = flow.page, flow.y + SIZE
    for x, told in ((flow.left, left), (flow.left + half + GUTTER, right)):
        if told is None:
            continue
        fact, lines = told
        font = BOLD if fact.missing else REGULAR
        page.text(x, top, fitted(fact.label, LABEL - 4, SIZE), SIZE, gray=0.3)
        y = top
        for text in lines:
            page.text(x + LABEL, y, text, SIZE, font)
            y += STEP
    flow.y += height
