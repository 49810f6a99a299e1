"""Draws the answer to a customer or a neighbour: questions in bold on the left, answers on the right."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from records.domain.answer_model import KEEP_OFF, SAFETY
from records.reports.flow import Flow
from records.reports.fonts import BOLD, REGULAR
from records.reports.layout import LEADING, MARGIN, About, Page, fitted, length, paper_size, wrap, write

if TYPE_CHECKING:
    from records.domain.answer_model import AnswerLine, AnswerModel, AnswerPart

# An ordinary visit goes on one page: tried from roomy to tight, the tightest still some 8-point text.
SCALES = (1.06, 1.0, 0.95, 0.91, 0.87, 0.84)
BODY = 9.2
FOOT = 33.0
LEFT = 0.235  # share of the width that the questions have


def render_answer(model: AnswerModel, paper: str = "letter") -> bytes:
    """Return an answer as PDF bytes; the same model gives the same bytes.

    Args:
        model: the page model.
        paper: `letter` or `a4`.

    Raises:
        UsageError: no such paper.
        GlyphError: the fonts lack a character.
    """
    size = paper_size(paper)
    pages: list[Page] = []
    for scale in SCALES:
        pages = _draw(model, size, scale)
        if len(pages) == 1:
            break
    else:  # more than a page anyway: at least easy to read
        pages = _draw(model, size, 1.0)
    _feet(model, pages, size)
    title = f"{model.title}: {model.subtitle}"
    about = About(title, model.firm.name, model.subject, model.language, date.fromisoformat(model.issued_on))
    return write(pages, size, about)


def _draw(model: AnswerModel, paper: tuple[float, float], scale: float) -> list[Page]:
    def carry_on(flow: Flow) -> None:
        flow.page.text(flow.left, flow.y + 8, fitted(model.continued, flow.across, 8, BOLD), 8, BOLD)
        flow.page.rule(flow.left, flow.y + 12, flow.across)
        flow.y += 22

    flow = Flow(paper, FOOT, scale, carry_on)
    _head(flow, model)
    for part in model.parts:
        _part(flow, part)
        if part.key in SAFETY:
            _emergency(flow, model)
    return flow.pages


def _head(flow: Flow, model: AnswerModel) -> None:
    firm, right = model.firm, flow.left + flow.across
    phone = length(firm.phone, 14, BOLD)
    flow.page.text(flow.left, flow.y + 12, fitted(firm.name, flow.across - phone - 12, 14, BOLD), 14, BOLD)
    flow.page.right(right, flow.y + 12, fitted(firm.phone, flow.across / 2, 14, BOLD), 14, BOLD)
    licence = fitted(firm.licence, flow.across / 2 - 6, 8.5)
    flow.page.right(right, flow.y + 24, licence, 8.5)
    for line in wrap(firm.address, flow.across - length(licence, 8.5) - 12, 8.5):
        flow.page.text(flow.left, flow.y + 24, line, 8.5)
        flow.y += 8.5 * LEADING
    flow.y += 29 - 8.5 * LEADING
    flow.page.rule(flow.left, flow.y, flow.across, 1.2)
    flow.gap(6)
    issued = length(model.issued, 8)
    top = flow.y
    flow.text(model.title, 12.5, BOLD, inset=issued + 10)
    flow.page.right(right, top + flow.size(12.5) * 0.97, model.issued, 8, gray=0.25)
    flow.text(model.subtitle, 10.5, BOLD)
    if model.recipient:  # a name is never cut off
        flow.text(model.recipient, BODY)
    flow.gap(5)


def _part(flow: Flow, part: AnswerPart) -> None:
    size = flow.size(BODY)
    left = flow.across * LEFT
    question = wrap(part.question, left - 8, size, BOLD)
    flow.need(size * LEADING * max(len(question), 2) + 8)
    flow.page.rule(flow.left, flow.y, flow.across, 0.4, gray=0.5)
    flow.gap(3)
    top, first = flow.y, len(flow.pages)
    for number, text in enumerate(question):
        flow.page.text(flow.left, top + size * (0.97 + LEADING * number), text, size, BOLD)
    for line in part.lines:
        _line(flow, line, left, is_large=part.key in KEEP_OFF and line.strong)
    if len(flow.pages) == first:
        flow.y = max(flow.y, top + size * LEADING * len(question))
    flow.gap(3)


def _line(flow: Flow, line: AnswerLine, left: float, *, is_large: bool) -> None:
    text = f"{line.text} {line.note}".strip()
    if line.strong:
        words = f"{line.lead} {text}".strip()
        flow.text(words, 12.5 if is_large else BODY, BOLD, indent=left)
    elif line.lead and text:
        flow.led(line.lead, text, BODY, indent=left)
    else:
        flow.text(line.lead or text, BODY, BOLD if line.lead else REGULAR, indent=left)


def _emergency(flow: Flow, model: AnswerModel) -> None:
    """Draw the numbers to call, each in a box of its own."""
    cell = (flow.across - 8 * (len(model.emergency) - 1)) / len(model.emergency)
    number, name, when = flow.size(14), flow.size(9), flow.size(8.2)
    told = [(wrap(one.name, cell - 12, name, BOLD), wrap(one.when, cell - 12, when)) for one in model.emergency]
    most = max(len(names) * name + len(whens) * when for names, whens in told)
    height = number * 1.25 + most * LEADING + 7
    flow.need(height + flow.size(9.5) * LEADING * 2 + 8)
    flow.text(model.emergency_heading, 9.5, BOLD)
    flow.gap(1)
    top = flow.y
    for place, (one, (names, whens)) in enumerate(zip(model.emergency, told, strict=True)):
        x, y = flow.left + place * (cell + 8), top + number
        flow.page.box(x, top, cell, height, line=1.0)
        flow.page.text(x + 6, y, one.number, number, BOLD)
        y += number * 0.25
        for text, size, font in [*((t, name, BOLD) for t in names), *((t, when, REGULAR) for t in whens)]:
            y += size * LEADING
            flow.page.text(x + 6, y - size * 0.2, text, size, font)
    flow.y = top + height
    flow.gap(2)
    flow.text(model.emergency_note, 8.2)
    flow.gap(3)


def _feet(model: AnswerModel, pages: list[Page], paper: tuple[float, float]) -> None:
    """Write the cautions, the record and the page number at the bottom of every page."""
    across, top = paper[0] - 2 * MARGIN, paper[1] - MARGIN - FOOT + 8
    for number, page in enumerate(pages, start=1):
        page.rule(MARGIN, top, across, 0.8)
        word = model.page_word.replace("{page}", str(number)).replace("{pages}", str(len(pages)))
        told = f"{fitted(model.serial, across / 2, 7.2)}  ·  {word}"
        y = top + 9.5
        for text in wrap(" ".join(model.footer), across - length(told, 7.2) - 16, 7.2, REGULAR, 3):
            page.text(MARGIN, y, text, 7.2, gray=0.15)
            y += 7.2 * LEADING
        page.right(paper[0] - MARGIN, top + 9.5, told, 7.2, gray=0.15)
