"""Draws a customer notice: who may step where first, whom to call second, then what was done."""

from __future__ import annotations

from datetime import date
from itertools import groupby
from typing import TYPE_CHECKING

from records.reports.flow import Flow
from records.reports.fonts import BOLD, REGULAR
from records.reports.layout import LEADING, MARGIN, About, Page, fitted, length, paper_size, wrap, write

if TYPE_CHECKING:
    from records.domain.report_model import Fact, LabelPart, LabelWords, NoticeModel, ProductLine, VisitPart

# An ordinary visit goes on one page: tried from roomy to tight, the tightest still 8-point text.
SCALES = (1.08, 1.04, 1.0, 0.96, 0.92, 0.88)
BODY = 9.2
SMALL = 8.2
CELL_LINES = 12
FOOT = 46.0
COLUMNS = (0.365, 0.255, 0.24, 0.14)  # product, active, rate, amount: shares of the width


def notice_pages(model: NoticeModel, paper: str) -> list[Page]:
    """Return the pages of a notice, not yet written out."""
    size = paper_size(paper)
    pages: list[Page] = []
    for scale in SCALES if model.kind == "visit" else (0.96,):
        pages = _draw(model, size, scale)
        if len(pages) == 1:
            break
    else:
        if model.kind == "visit":  # more than a page anyway: at least easy to read
            pages = _draw(model, size, 1.0)
    _feet(model, pages, size)
    return pages


def render_notice(model: NoticeModel, paper: str = "letter") -> bytes:
    """Return a notice as PDF bytes; the same model gives the same bytes.

    Args:
        model: the page model.
        paper: `letter` or `a4`.

    Raises:
        UsageError: no such paper.
        GlyphError: the fonts lack a character.
    """
    pages = notice_pages(model, paper)
    title = f"{model.title}: {model.subtitle}"
    about = About(title, model.firm.name, model.subject, model.language, date.fromisoformat(model.issued_on))
    return write(pages, paper_size(paper), about)


def _draw(model: NoticeModel, paper: tuple[float, float], scale: float) -> list[Page]:
    def carry_on(flow: Flow) -> None:
        flow.page.text(flow.left, flow.y + 8, fitted(model.continued, flow.across, 8, BOLD), 8, BOLD)
        flow.page.rule(flow.left, flow.y + 12, flow.across)
        flow.y += 22

    flow = Flow(paper, FOOT, scale, carry_on)
    _head(flow, model)
    _keep_off(flow, model)
    _emergency(flow, model)
    if model.kind == "visit":
        _label_part(flow, model.first_aid)
        flow.gap(5)
    flow.heading(model.visits_heading)
    for visit in model.visits:
        _visit(flow, model, visit)
    _signatures(flow, model.signatures)
    if model.kind == "season":
        _label_part(flow, model.precautions)
        _label_part(flow, model.first_aid)
    _label_part(flow, model.results)
    return flow.pages


def _head(flow: Flow, model: NoticeModel) -> None:
    firm, page, right = model.firm, flow.page, flow.left + flow.across
    phone = length(firm.phone, 14, BOLD)
    page.text(flow.left, flow.y + 12, fitted(firm.name, flow.across - phone - 12, 14, BOLD), 14, BOLD)
    page.right(right, flow.y + 12, fitted(firm.phone, flow.across / 2, 14, BOLD), 14, BOLD)
    licence = fitted(firm.licence, flow.across / 2 - 6, 8.5)
    top = flow.y + 24
    for number, line in enumerate(wrap(firm.address, flow.across - length(licence, 8.5) - 12, 8.5)):
        flow.y += 8.5 * LEADING if number else 0.0
        page.text(flow.left, flow.y + 24, line, 8.5)
    page.right(right, top, licence, 8.5)
    page.rule(flow.left, flow.y + 29, flow.across, 1.2)
    flow.y += 29
    flow.gap(6)
    size = flow.size(12.5)
    issued = length(model.issued, 8)
    top = flow.y
    flow.text(model.title, 12.5, BOLD, inset=issued + 10)
    flow.page.right(right, top + size * 0.97, model.issued, 8, gray=0.25)
    name = model.recipient[0]
    who = f"{name.label}: {name.value}"
    across, top = length(who, flow.size(BODY)), flow.y
    is_beside = across <= flow.across / 2 - 10
    flow.text(model.subtitle, 10.5, BOLD, inset=across + 10 if is_beside else 0.0)
    if is_beside:
        flow.page.right(right, top + flow.size(10.5) * 0.97, who, flow.size(BODY))
    else:  # a name is never cut off: rules want it whole
        flow.text(who, BODY)
    flow.gap(6)


def _keep_off(flow: Flow, model: NoticeModel) -> None:
    _banner(flow, model.keep_off_heading)
    flow.open_box(1.6)
    flow.gap(5)
    longest = sum(len(words.text) for words in model.keep_off)
    points = 20.0 if longest <= 80 else 15.0 if longest <= 200 else 11.5
    for words in model.keep_off:
        if words.text:
            flow.text(words.text, points, BOLD, indent=10, inset=10)
            flow.gap(2)
        for told in filter(None, (words.source, words.note)):
            flow.text(told, BODY, indent=10, inset=10)
        flow.gap(3)
    for words in model.reentry:
        flow.text(f"{words.text} ({words.source})", 10.5, BOLD, indent=10, inset=10)
        flow.gap(2)
    if model.sign:
        flow.text(model.sign, 10.5, BOLD, indent=10, inset=10)
        flow.gap(2)
    if model.kind == "visit" and model.precautions.words:
        flow.gap(1)
        _label_lines(flow, model.precautions, heading_size=SMALL, indent=10)
    flow.gap(4)
    flow.close_box()
    flow.gap(6)


def _banner(flow: Flow, text: str) -> None:
    size = flow.size(13)
    lines = wrap(text, flow.across - 20, size, BOLD)
    height = size * LEADING * len(lines) + 7
    flow.need(height + 60)
    flow.page.box(flow.left, flow.y, flow.across, height, fill=0.0)
    for number, line in enumerate(lines):
        baseline = flow.y + 3.5 + size * (0.98 + LEADING * number)
        flow.page.text(flow.left + 10, baseline, line, size, BOLD, gray=1.0)
    flow.y += height


def _emergency(flow: Flow, model: NoticeModel) -> None:
    cell = (flow.across - 8 * (len(model.emergency) - 1)) / len(model.emergency)
    number_size, name_size, when_size = flow.size(15), flow.size(9), flow.size(SMALL)
    told = [wrap(line.when, cell - 12, when_size) for line in model.emergency]
    names = [wrap(line.name, cell - 12, name_size, BOLD) for line in model.emergency]
    most = max(len(when) * when_size + len(name) * name_size for when, name in zip(told, names, strict=True))
    height = number_size * 1.25 + most * LEADING + 8
    flow.need(height + flow.size(11) * LEADING + 20)
    beside = length(model.emergency_heading, flow.size(9.5), BOLD) + 12
    short = beside + length(model.emergency_note, flow.size(SMALL)) <= flow.across
    flow.line(model.emergency_heading, 9.5, BOLD)
    if short:
        at = flow.y - flow.size(9.5) * (LEADING - 0.97)
        flow.page.right(flow.left + flow.across, at, model.emergency_note, flow.size(SMALL))
    flow.gap(1)
    top = flow.y
    for number, line in enumerate(model.emergency):
        x, y = flow.left + number * (cell + 8), top + number_size
        flow.page.box(x, top, cell, height, line=1.0)
        flow.page.text(x + 6, y, line.number, number_size, BOLD)
        y += number_size * 0.25
        for text in names[number]:
            y += name_size * LEADING
            flow.page.text(x + 6, y - name_size * 0.2, text, name_size, BOLD)
        for text in told[number]:
            y += when_size * LEADING
            flow.page.text(x + 6, y - when_size * 0.2, text, when_size)
    flow.y = top + height
    flow.gap(3)
    if not short:
        flow.text(model.emergency_note, SMALL)
    flow.gap(3)


def _label_part(flow: Flow, part: LabelPart) -> None:
    if part.words:
        flow.gap(5)
        notes = {words.note for words in part.words}
        heading = f"{part.heading} {notes.pop()}".strip() if len(notes) == 1 else part.heading
        flow.heading(heading)
        _words(flow, part.words, 0.0)


def _label_lines(flow: Flow, part: LabelPart, *, heading_size: float, indent: float) -> None:
    notes = {words.note for words in part.words}
    heading = f"{part.heading} {notes.pop()}".strip() if len(notes) == 1 else part.heading
    flow.text(heading, heading_size, BOLD, indent=indent, inset=indent)
    flow.gap(1)
    if not _two_columns(flow, part.words, indent):
        _words(flow, part.words, indent)


def _groups(words: tuple[LabelWords, ...]) -> list[tuple[str, list[str]]]:
    """Return the texts by whose they are, neighbours of one source together."""
    notes = {said.note for said in words}
    return [
        (source, [said.text if len(notes) == 1 else f"{said.text} {said.note}".strip() for said in group])
        for source, group in groupby(words, lambda said: said.source)
    ]


def _two_columns(flow: Flow, words: tuple[LabelWords, ...], indent: float) -> bool:
    """Write short label texts side by side, if they fit on this page; tell whether they did."""
    size = flow.size(BODY)
    across = (flow.across - 2 * indent - 14) / 2
    bullet = length("• ", size, BOLD)
    lines: list[tuple[str, float, str]] = []  # text, indent, font
    for source, texts in _groups(words):
        if source:
            lines.extend((line, 0.0, BOLD) for line in wrap(source, across, size, BOLD))
        for text in texts:
            first, *rest = wrap(text, across - bullet - 6, size)
            lines.append((f"• {first}", 6.0, REGULAR))
            lines.extend((line, 6.0 + bullet, REGULAR) for line in rest)
    half = (len(lines) + 1) // 2
    if len(lines) < 6 or flow.y + half * size * LEADING > flow.bottom - 20:
        return False
    while lines[half - 1][2] == BOLD or (not lines[half][0].startswith("•") and lines[half][2] == REGULAR):
        half += 1  # neither a name without its first text nor half a text
        if half == len(lines):
            return False
    for number, (text, inner, font) in enumerate(lines):
        x = flow.left + indent + (across + 14 if number >= half else 0.0)
        y = flow.y + size * (0.97 + LEADING * (number - half if number >= half else number))
        flow.page.text(x + inner, y, text, size, font)
    flow.y += max(half, len(lines) - half) * size * LEADING
    return True


def _words(flow: Flow, words: tuple[LabelWords, ...], indent: float) -> None:
    """Write label texts one below the other, those of one source together."""
    points = BODY if indent else SMALL + 0.5
    for source, texts in _groups(words):
        if len(texts) == 1:
            flow.led(source, texts[0], points, indent=indent, inset=indent)
            continue
        if source:
            flow.need(flow.size(points) * LEADING * 2)
            flow.text(source, points, BOLD, indent=indent, inset=indent)
        for text in texts:
            flow.led("•", text, points, indent=indent + 6, inset=indent)


def _visit(flow: Flow, model: NoticeModel, visit: VisitPart) -> None:
    if model.kind == "season":
        flow.gap(2)
        size = flow.size(10.5)
        flow.need(size * LEADING * 7)
        flow.line(visit.heading, 10.5, BOLD)
        facts = [fact for fact in visit.facts if fact.label != visit.facts[0].label or fact.missing]
        flow.text(_sentence(facts), SMALL)
        flow.gap(1)
    if visit.corrected:
        flow.gap(1)
        for number, text in enumerate(visit.corrected):
            flow.text(text, BODY, REGULAR if number else BOLD, indent=8)
        flow.gap(3)
    if visit.deviation:
        flow.open_box(1.2)
        flow.gap(3)
        for number, text in enumerate(visit.deviation):
            flow.text(text, BODY, REGULAR if number else BOLD, indent=8, inset=8)
        flow.gap(3)
        flow.close_box()
        flow.gap(4)
    _table_head(flow, model.columns)
    for treatment in visit.treatments:
        size = flow.size(BODY)
        flow.need(size * LEADING * 4)
        flow.gap(2)
        flow.text(treatment.heading, BODY, BOLD)
        flow.text(_sentence(treatment.facts), SMALL)
        flow.gap(1.5)
        for product in treatment.products:
            _product(flow, product)
    if model.kind == "visit":
        flow.gap(5)
        _facts(flow, visit.facts)
    else:
        flow.gap(4)


def _sentence(facts: tuple[Fact, ...] | list[Fact]) -> str:
    return "  ·  ".join(f"{fact.label}: {fact.value}" for fact in facts)


def _edges(flow: Flow) -> list[tuple[float, float]]:
    edges, x = [], flow.left
    for share in COLUMNS:
        edges.append((x, share * flow.across - 8))
        x += share * flow.across
    return edges


def _table_head(flow: Flow, columns: tuple[str, ...]) -> None:
    size = flow.size(SMALL)
    flow.need(size * LEADING * 6)
    for (x, across), title in zip(_edges(flow), columns, strict=True):
        flow.page.text(x, flow.y + size, fitted(title, across, size), size, gray=0.25)
    flow.y += size * LEADING + 1
    flow.page.rule(flow.left, flow.y, flow.across, 0.4, gray=0.4)
    flow.y += 1.5


def _product(flow: Flow, product: ProductLine) -> None:
    body, small = flow.size(BODY), flow.size(SMALL)
    edges = _edges(flow)
    identity = f"{product.identity}, {product.note}" if product.note else product.identity
    cells = [
        [(text, body, BOLD) for text in wrap(product.name, edges[0][1], body, BOLD, CELL_LINES)]
        + [(text, small, REGULAR) for text in wrap(identity, edges[0][1], small, REGULAR, CELL_LINES)],
        [(text, body, REGULAR) for text in wrap(product.actives, edges[1][1], body, REGULAR, CELL_LINES)],
        [(text, body, REGULAR) for text in wrap(product.rate.value, edges[2][1], body, REGULAR, CELL_LINES)],
        [(text, body, BOLD) for text in wrap(product.amount.value, edges[3][1], body, BOLD, CELL_LINES)],
    ]
    height = max(sum(size * LEADING for _, size, _ in cell) for cell in cells)
    flow.need(height + 4)
    for (x, _), cell in zip(edges, cells, strict=True):
        y = flow.y
        for text, size, font in cell:
            flow.page.text(x, y + size * 0.97, text, size, font)
            y += size * LEADING
    flow.y += height + 2
    flow.page.rule(flow.left, flow.y, flow.across, 0.25, gray=0.6)
    flow.y += 2


def _facts(flow: Flow, facts: tuple[Fact, ...]) -> None:
    """Write named values in two columns, down the first and then down the second."""
    size = flow.size(BODY)
    half = (len(facts) + 1) // 2
    across = flow.across / 2 - 8
    columns = [facts[:half], facts[half:]]
    names = max(length(f"{fact.label}:", size, BOLD) for fact in facts) + 7
    lines = [
        [(fact.label, wrap(fact.value, across - names, size, REGULAR, CELL_LINES)) for fact in column]
        for column in columns
    ]
    height = max(sum(len(text) for _, text in column) for column in lines) * size * LEADING
    flow.need(height)
    top = flow.y
    for number, column in enumerate(lines):
        x, y = flow.left + number * (flow.across / 2 + 8), top
        for label, texts in column:
            flow.page.text(x, y + size * 0.97, f"{label}:", size, BOLD)
            for text in texts:
                flow.page.text(x + names, y + size * 0.97, text, size)
                y += size * LEADING
    flow.y = top + height
    flow.gap(2)


def _signatures(flow: Flow, signatures: tuple[str, ...]) -> None:
    """Draw a line to sign on for each person, with who signs below it."""
    if not signatures:
        return
    across, size = (flow.across - 16) / 2, flow.size(SMALL)
    for number in range(0, len(signatures), 2):
        flow.need(22 + size * LEADING)
        flow.y += 22
        for column, text in enumerate(signatures[number : number + 2]):
            x = flow.left + column * (across + 16)
            flow.page.rule(x, flow.y, across, 0.6)
            flow.page.text(x, flow.y + size * 1.05, fitted(text, across, size), size)
        flow.y += size * LEADING
    flow.gap(2)


def _feet(model: NoticeModel, pages: list[Page], paper: tuple[float, float]) -> None:
    """Write how to get the label, the cautions and the page number at the bottom of every page."""
    across, top = paper[0] - 2 * MARGIN, paper[1] - MARGIN - FOOT + 8
    serial = model.visits[0].facts[-1] if model.kind == "visit" and model.visits else None
    for number, page in enumerate(pages, start=1):
        page.rule(MARGIN, top, across, 0.8)
        page.text(MARGIN, top + 11, fitted(model.footer[0], across, 8.5, BOLD), 8.5, BOLD)
        y = top + 20.5
        word = model.page_word.replace("{page}", str(number)).replace("{pages}", str(len(pages)))
        told = f"{serial.label} {serial.value}  ·  {word}" if serial else word
        room = across - length(told, 7.2) - 16
        for text in wrap(" ".join(model.footer[1:]), room, 7.2, REGULAR, 3):
            page.text(MARGIN, y, text, 7.2, gray=0.15)
            y += 7.2 * LEADING
        page.right(paper[0] - MARGIN, top + 20.5, told, 7.2, gray=0.15)
