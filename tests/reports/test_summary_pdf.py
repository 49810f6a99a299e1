"""The annual summary as PDF: page x of y, the seal, the same strings and the same bytes."""

from __future__ import annotations

import io
from datetime import date
from itertools import pairwise
from typing import TYPE_CHECKING

import pytest
from pypdf import PdfReader

from records.domain.people import Business
from records.reports.layout import length
from records.reports.render import PdfRenderer, render_summary
from records.reports.summary import summary_pages
from records.services.summarising import build_summary
from tests.summary_rows import use, year_rows

if TYPE_CHECKING:
    from records.domain.report_model import SummaryModel

FIRM = Business("Loon Hollow Lawn Care", "480 Cooper Alley", "612-555-0142", "MN-B-990417", "MN", "America/Chicago")


def summary(places: int = 1) -> SummaryModel:
    """Return the invented year, its use spread over so many ZIP codes."""
    rows = year_rows()
    more = [use(zip=f"{56000 + number}") for number in range(places)]
    return build_summary(rows._replace(uses=[*rows.uses, *more]), 2026, FIRM, date(2026, 12, 31))


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_every_page_has_its_number_and_the_last_seal(paper: str) -> None:
    """Page x of y, and the seal that a rewritten book could not match."""
    pages = PdfReader(io.BytesIO(render_summary(summary(150), paper))).pages
    assert len(pages) > 3
    for number, page in enumerate(pages, start=1):
        text = page.extract_text()
        assert f"Page {number} of {len(pages)}" in text
        assert "5e" * 32 in text
        assert "The product label is the law" in text


def test_the_numbers_on_paper_are_the_models() -> None:
    """Every string of every total stands on the pages."""
    model = summary()
    drawn = {text.text for page in summary_pages(model, "letter") for text in page.texts}
    printed = " ".join(drawn)
    for section in model.sections:
        if section.total is not None:
            assert all(value in printed for value in section.total)
    products = next(section for section in model.sections if section.key == "by_product")
    assert f"{dict(zip([c.key for c in products.columns], products.rows[0], strict=True))['gal']} gal" in drawn


def test_the_same_book_and_date_give_the_same_bytes() -> None:
    """Byte for byte, with title, author and language in the file."""
    first, second = render_summary(summary()), render_summary(summary())
    assert first == second
    about = PdfReader(io.BytesIO(first))
    assert about.metadata is not None
    assert about.metadata.title == "Annual summary 2026"
    assert str(about.metadata["/CreationDate"]).startswith("D:20261231")


def test_nothing_overlaps_the_edges_or_its_neighbour_in_the_charts() -> None:
    """Numbers of eleven digits over the bars are set smaller, not over each other."""
    rows = year_rows()
    big = [use(period=f"2026-{month:02d}", amount_nano=10**18) for month in range(1, 13)]
    pages = summary_pages(build_summary(rows._replace(uses=big), 2026, FIRM, date(2026, 12, 31)), "letter")
    for page in pages:
        by_line: dict[float, list[tuple[float, float]]] = {}
        for text in page.texts:
            end = text.x + length(text.text, text.size, text.font)
            assert end <= 612 - 35.9
            by_line.setdefault(round(text.y, 2), []).append((text.x, end))
        for line in by_line.values():
            line.sort()
            assert all(first[1] <= second[0] + 0.1 for first, second in pairwise(line))


def test_the_renderer_of_the_ports_draws_both_reports() -> None:
    """What bootstrap plugs in answers with PDFs."""
    renderer = PdfRenderer()
    assert renderer.summary(summary(), "a4").startswith(b"%PDF-")
    assert renderer.wording("es")("value.calm") == "en calma"


def test_an_empty_year_is_printed() -> None:
    """A nil report has pages too."""
    rows = year_rows()._replace(uses=[], targets=[], actives=[], flagged=[], records=0, voided=0, head="")
    text = PdfReader(io.BytesIO(render_summary(build_summary(rows, 2026, None, date(2026, 12, 31))))).pages[0]
    assert "none: the book is empty" in text.extract_text()
