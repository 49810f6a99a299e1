"""The season on one page: no total on its neighbour, whatever its length."""

from __future__ import annotations

from itertools import combinations

import pytest

from records.domain.report_model import Fact
from records.reports.layout import MARGIN, length, paper_size
from records.reports.season_page import season_page
from records.services.season import Season

LABELS = ("Wrong for an inspector", "Over a limit, signed for", "Visits", "Judged at last look", "Products cost")


@pytest.mark.parametrize("paper", ["letter", "a4"])
@pytest.mark.parametrize("value", ["6", "68 % (97 of 143)", "$859.83 (12 applications without a price)", "1" * 90])
def test_no_total_lies_on_its_label_or_its_neighbour(value: str, paper: str) -> None:
    season = Season(
        year=2026,
        title="Season 2026",
        firm="Loon Hollow Lawn Care",
        issued="Issued October 27, 2026",
        issued_on="2026-10-27",
        last_seal="none: the book is empty",
        facts=tuple(Fact(label, value) for label in LABELS),
        figures={},
        charts=(),
        sections=(),
        notes=(),
        cautions=(),
    )
    texts = season_page(season, paper).texts
    for one in texts:
        assert one.x >= MARGIN - 0.1
        assert one.x + length(one.text, one.size, one.font) <= paper_size(paper)[0] - MARGIN + 0.1
    for one, other in combinations(texts, 2):
        if abs(one.y - other.y) < 1:
            first, second = sorted((one, other), key=lambda text: text.x)
            assert first.x + length(first.text, first.size, first.font) <= second.x, (first.text, second.text)
    if len(value) < 20:
        assert sum(one.text == value for one in texts) == len(LABELS)
    if len(value) < 4:
        assert {one.text for one in texts} >= set(LABELS)
