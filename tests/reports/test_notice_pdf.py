"""Notices as PDF: one page for an ordinary visit, the same bytes twice, hostile text shown and not obeyed."""

from __future__ import annotations

import io
import os
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from records.errors import GlyphError, UsageError
from records.reports.layout import length
from records.reports.notice import notice_pages
from records.reports.render import notice_wording, render_notice
from records.services.noticing import season_notice, visit_notice
from records.services.ports import StoredRevision
from tests.bodies import BRINDLE, BRINDLE_LABEL, application, treatment, visit_body

GOLDEN = Path(__file__).with_name("golden")
DAY = date(2026, 5, 14)


def sealed(body: dict[str, Any], number: int = 1) -> StoredRevision:
    """Return a sealed revision of a body."""
    return StoredRevision(number, f"2026-{number:06d}", 1, "sealed", "2026-05-14T14:33:01.123456Z", "", "ab" * 32, body)


def visit_pdf(body: dict[str, Any], language: str = "en", paper: str = "letter") -> bytes:
    """Return the notice of a body."""
    return render_notice(visit_notice(sealed(body), notice_wording(language), language, DAY), paper)


def texts(pdf: bytes) -> list[str]:
    """Return the text of every page."""
    return [page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages]


@pytest.mark.parametrize("paper", ["letter", "a4"])
@pytest.mark.parametrize("language", ["en", "es"])
def test_an_ordinary_visit_is_one_page(paper: str, language: str) -> None:
    """Two treatments and three products fit, in both languages and on both papers."""
    assert len(texts(visit_pdf(visit_body(), language, paper))) == 1


@pytest.mark.parametrize("language", ["en", "es"])
def test_the_words_on_the_page_are_the_golden_ones(language: str) -> None:
    """The text of the page is compared with a stored one (SWATHBOOK_UPDATE_GOLDEN=1 writes it anew)."""
    text = texts(visit_pdf(visit_body(), language))[0] + "\n"
    file = GOLDEN / f"visit.{language}.txt"
    if os.environ.get("SWATHBOOK_UPDATE_GOLDEN"):
        file.write_text(text, encoding="utf-8")
    assert text == file.read_text(encoding="utf-8")


def test_the_same_record_gives_the_same_bytes_and_the_environment_is_left_alone() -> None:
    """No time of day, no random id; the date of the file is the day of issue."""
    before = dict(os.environ)
    first, second = visit_pdf(visit_body()), visit_pdf(visit_body())
    assert first == second
    assert dict(os.environ) == before
    about = PdfReader(io.BytesIO(first))
    assert about.metadata is not None
    assert str(about.metadata["/CreationDate"]).startswith("D:20260514")
    assert about.metadata.author == "Loon Hollow Lawn Care"
    assert about.metadata.title == "Notice of lawn treatment: May 14, 2026 at 7 Lark Lane, Birchfold, MN 55290"
    assert about.metadata.subject
    assert str(about.root_object["/Lang"]) == "en"


@pytest.mark.parametrize(
    "text", ["<b>bold</b>", '<img src="x.png"/>', "</para>", "&lt;i&gt;", "{firm} %s (x) \\ \\060"]
)
def test_markup_is_printed_as_it_is(text: str) -> None:
    """Text is never parsed: tags, entities, places and PDF escapes come out literally."""
    body = visit_body(treatments=[treatment(applications=[application(BRINDLE | {"name": text})])])
    assert text in texts(visit_pdf(body))[0]


def test_a_character_without_a_glyph_is_an_error_that_names_it() -> None:
    """A missing glyph is never a blank."""
    body = visit_body()
    body["customer"]["name"] = "Mr 山"
    with pytest.raises(GlyphError, match=r"no 山 \(U\+5C71, CJK UNIFIED IDEOGRAPH-5C71\)"):
        visit_pdf(body)


@pytest.mark.parametrize("name", ["Nguyễn Thị Hồng", "Łukasz Żółć", "Ольга Жук", "Άννα Ψαρά", "Þóra Æsudóttir"])
def test_names_in_many_scripts_are_printed(name: str) -> None:
    """Latin with all its marks, Greek, Cyrillic and Vietnamese."""
    body = visit_body()
    body["customer"]["name"] = name
    assert name in texts(visit_pdf(body))[0]


def test_control_and_direction_marks_cannot_steer_the_page() -> None:
    """They come out as visible marks."""
    body = visit_body()
    body["customer"]["name"] = "Ann\x00 \u202egnp\x1b[2J"
    text = texts(visit_pdf(body))[0]
    assert "\u202e" not in text
    assert "\x1b" not in text
    assert "\N{REPLACEMENT CHARACTER}gnp" in text


def test_endless_words_stay_on_the_page() -> None:
    """Ten thousand characters without a blank are cut or broken; nothing leaves the margins."""
    long = "W" * 10_000
    label = BRINDLE_LABEL | {"first_aid": long, "precautions": [long], "keep_off": long}
    named = application(BRINDLE | {"name": long, "registration": long}, label, rate=long, amount=long)
    body = visit_body(treatments=[treatment(applications=[named], targets=[long], zones=[{"id": long, "kind": long}])])
    body["business"]["name"] = body["customer"]["name"] = body["site"]["address"] = long
    model = visit_notice(sealed(body), notice_wording("en"), "en", DAY)
    pages = notice_pages(model, "letter")
    for page in pages:
        for text in page.texts:
            assert text.x >= 35.9
            assert text.x + length(text.text, text.size, text.font) <= 612 - 35.9
            assert 0 < text.y < 792
    printed = "".join(text.text for page in pages for text in page.texts)
    assert printed.count("W") >= 30_000  # the label's own words are complete


def test_remarks_are_not_printed_however_long() -> None:
    """The firm's remarks are not for the customer."""
    assert visit_pdf(visit_body(remarks="x" * 10_000_000)) == visit_pdf(visit_body())


def test_a_long_visit_runs_over_pages_that_say_so() -> None:
    """Page x of y, the firm and the label line on every page."""
    body = visit_body(treatments=[treatment(applications=[application() for _ in range(12)]) for _ in range(4)])
    pages = texts(visit_pdf(body))
    assert len(pages) > 1
    for number, text in enumerate(pages, start=1):
        assert f"Page {number} of {len(pages)}" in text
        assert "You may have a copy of every product label" in text
    assert "continued" in pages[1]


def test_a_season_notice_holds_every_serial() -> None:
    """Everything at a site in a year, over as many pages as it takes."""
    records = [sealed(visit_body(date=f"2026-0{3 + n}-14", period=f"2026-0{3 + n}"), n) for n in range(1, 7)]
    model = season_notice(records, 2026, notice_wording("en"), "en", DAY)
    text = "\n".join(texts(render_notice(model, "a4")))
    assert all(record.serial in text for record in records)
    assert "Everything applied in 2026" in text


def test_an_unknown_paper_is_refused() -> None:
    """One line, with what would be understood."""
    model = visit_notice(sealed(visit_body()), notice_wording("en"), "en", DAY)
    with pytest.raises(UsageError, match="letter, a4"):
        render_notice(model, "foolscap")
