"""Mix cards: one page however much there is to say, golden words, the same bytes twice, nothing cut unsaid."""

from __future__ import annotations

import io
import os
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from pypdf import PdfReader

from records.errors import UsageError
from records.reports.layout import length
from records.reports.mix_card import card_page, render_mix_cards
from records.services.planning.card import EMERGENCY_LINE, Card, CardRow
from records.services.planning.telling import LABEL_WINS

GOLDEN = Path(__file__).with_name("golden")
CARD = Card(
    title="Mix card: skid",
    day=date(2026, 5, 14),
    firm="Loon Hollow Lawn Care",
    phone="612-555-0142",
    about=(
        ("Day", "Thursday 2026-05-14; Mo Lindqvist"),
        ("Equipment", "Skid sprayer, green truck; broadcast; output 2 gal/1000 sq ft (calibrated 2026-04-13)"),
        ("Area", "62,300 sq ft"),
        ("Make", "124.6 gal of spray: 3 loads, 2 full and the last one of 14.6 gal (tank 55 gal)"),
    ),
    warnings=("STOP (stop 2): Brindle 4L comes to 4 lb/acre", "Jar test first: no two of these were sealed together"),
    products=(("Brindle 4L (99999-41), lot B2207", "1.1 fl oz/1000 sq ft = 0.55 fl oz/gal, 0.43 % v/v of spray"),),
    rows=(
        CardRow(
            "2 x full load", "55 gal", "27,500 sq ft", "Brindle 4L", "30.25 fl oz", ("30 fl oz in a jug (0.8% under)",)
        ),
        CardRow("last load", "14.6 gal", "7,300 sq ft", "Brindle 4L", "8.03 fl oz", ()),
    ),
    order_source="A-W-A-M-L-E-S: Oklahoma State University Extension",
    order=("Clean tank; fill it half to three quarters with water.", "Brindle 4L (soluble liquid, SL).", "Fill up."),
    binding=(("wind", "at most 10 mph (Brindle 4L)"), ("wear, mixing", "Chemical-resistant gloves (Brindle 4L)")),
    stops=tuple(
        (str(n), f"{n} Lark Lane, Birchfold: front, back", "9,300 sq ft", "18.6 gal", "1") for n in range(1, 7)
    ),
    cautions=(EMERGENCY_LINE, LABEL_WINS),
)


def texts(card: Card, paper: str = "letter") -> list[str]:
    """Return the text of every page."""
    return [page.extract_text() for page in PdfReader(io.BytesIO(render_mix_cards([card], paper))).pages]


def test_the_words_on_the_card_are_the_golden_ones() -> None:
    """The text of the page is compared with a stored one (SWATHBOOK_UPDATE_GOLDEN=1 writes it anew)."""
    text = texts(CARD)[0] + "\n"
    file = GOLDEN / "mix-card.txt"
    if os.environ.get("SWATHBOOK_UPDATE_GOLDEN"):
        file.write_text(text, encoding="utf-8")
    assert text == file.read_text(encoding="utf-8")


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_a_card_is_one_page_and_the_same_bytes_twice(paper: str) -> None:
    assert len(texts(CARD, paper)) == 1
    assert render_mix_cards([CARD], paper) == render_mix_cards([CARD], paper)
    pages = PdfReader(io.BytesIO(render_mix_cards([CARD, replace(CARD, title="Mix card: can")], paper))).pages
    assert len(pages) == 2
    assert "Mix card: can" in pages[1].extract_text()


def test_no_such_paper() -> None:
    with pytest.raises(UsageError, match="not known"):
        render_mix_cards([CARD], "a5")


def test_many_stops_are_cut_with_a_line_that_says_so() -> None:
    stops = tuple((str(n), f"{n} Lark Lane", "9,300 sq ft", "18.6 gal", "1") for n in range(1, 201))
    (text,) = texts(replace(CARD, stops=stops))
    assert "more stops do not fit on this page" in text
    assert EMERGENCY_LINE[-14:] in text
    assert LABEL_WINS[-23:] in text


@pytest.mark.parametrize("paper", ["letter", "a4"])
@pytest.mark.parametrize("long", ["W" * 4_000, "spray " * 700, "山" * 300])
def test_whatever_it_holds_the_card_is_one_page_within_its_margins(long: str, paper: str) -> None:
    """Every text as long as it can be, every list full: one page, and what is left out is said."""
    card = replace(
        CARD,
        title=long[:300],
        firm=long[:200],
        about=tuple((name, long) for name, _ in CARD.about),
        warnings=tuple(f"{n} {long}" for n in range(60)),
        products=tuple((f"{n} {long[:100]}", long) for n in range(20)),
        rows=tuple(
            CardRow(long[:80], long[:80], long[:80], long[:80], long[:80], (long[:200],) * 2) for _ in range(60)
        ),
        order=tuple(f"{n} {long}" for n in range(40)),
        order_source=long,
        binding=tuple((f"wear {n}", long) for n in range(40)),
        stops=tuple((str(n), long[:200], "1", "2", "3") for n in range(200)),
    )
    assert len(texts(card, paper)) == 1
    page = card_page(card, paper)
    across = {"letter": 612.0, "a4": 595.276}[paper]
    for text in page.texts:
        assert text.x >= 35.9
        assert text.x + length(text.text, text.size, text.font) <= across - 35.9
    printed = " ".join(text.text for text in page.texts)
    assert "This page is too small" in printed
    assert "The product label is the law" in printed


def test_markup_is_printed_as_it_is() -> None:
    assert "<b>bold</b>" in texts(replace(CARD, warnings=("<b>bold</b>",)))[0]
