"""Draws the plan of a trial: a sketch of its plots to take outside, and what was rated so far."""

from __future__ import annotations

from typing import TYPE_CHECKING

from records.reports.charts import put
from records.reports.flow import LenientFlow
from records.reports.fonts import BOLD, drawable
from records.reports.layout import LEADING, About, Page, fitted, paper_size, wrap, write

if TYPE_CHECKING:
    from collections.abc import Sequence

    from records.services.trials.words import TrialPage

BODY = 9.0
_PLOT = 62.0  # height of a plot in the sketch
_LEAST_PLOT = 24.0
_CURVE = 220.0
_GAP = 10.0  # under the sketch
_MARGIN_WORDS = 44.0  # left of the sketch, for the number of the block


def render_trial(model: TrialPage, paper: str = "letter") -> bytes:
    """Return the plan as PDF bytes; the same model gives the same bytes.

    Args:
        model: what it shows.
        paper: `letter` or `a4`.

    Raises:
        UsageError: no such paper.
    """
    size = paper_size(paper)
    flow = LenientFlow(size, 0.0, on_new_page=lambda one: one.text(drawable(model.title), BODY, BOLD))
    flow.head(model.title, f"{model.firm}, {model.day}", BODY)
    flow.gap(4)
    for name, text in model.about:
        flow.led(f"{name}:", text, BODY)
    flow.gap(2)
    for letter, given in model.entries:
        flow.led(f"{letter}:", given, BODY)
    flow.gap(8)
    words = (*model.sentences, *model.cautions)
    _sketch(flow, model, _height(flow, words) + (0.0 if model.curve is None else _CURVE + 6))
    if model.curve is not None:
        flow.need(_CURVE)
        put(flow.page, model.curve, flow.left, flow.y, flow.across, _CURVE)
        flow.y += _CURVE + 6
    for line in words:
        flow.text(line, BODY)
    pages: list[Page] = flow.pages
    about = About(model.title, model.firm, "Plan of a trial on plots", "en", model.day)
    return write(pages, size, about)


def _height(flow: LenientFlow, words: Sequence[str]) -> float:
    """Return the height that paragraphs will take."""
    return sum(len(wrap(drawable(line), flow.across, BODY)) for line in words) * BODY * LEADING


def _sketch(flow: LenientFlow, model: TrialPage, below: float) -> None:
    """Draw each block as a row of plots, lower where that leaves the page room for what stands below."""
    left, across = flow.left + _MARGIN_WORDS, flow.across - _MARGIN_WORDS
    room = flow.bottom - flow.y - below - _GAP
    height = min(_PLOT, max(_LEAST_PLOT, room / len(model.blocks)))
    for number, plots in enumerate(model.blocks, 1):
        flow.need(height)
        flow.page.text(flow.left, flow.y + height / 2, f"block {number}", BODY)
        wide = across / len(plots)
        for place, (name, letter, words) in enumerate(plots):
            x = left + place * wide
            flow.page.box(x, flow.y, wide, height, line=0.8)
            head = fitted(drawable(f"{name}: {letter}"), wide - 8, 11.0, BOLD)
            flow.page.text(x + 4, flow.y + 13, head, 11.0, BOLD)
            y = flow.y + 13 + 7.5 * LEADING
            for line in wrap(drawable(words), wide - 8, 7.5):
                if y > flow.y + height - 2:
                    break
                flow.page.text(x + 4, y, line, 7.5)
                y += 7.5 * LEADING
        flow.y += height
    flow.gap(_GAP)
