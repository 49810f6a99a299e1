"""The annual summary: exact sums, and the same strings in every output."""

from __future__ import annotations

import csv
import io
from datetime import date
from fractions import Fraction
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from records.domain.people import Business
from records.services.summarising import build_summary, cell, summary_csv, summary_document
from records.services.summary_words import fixed, serial_ranges
from tests.summary_rows import year_rows

if TYPE_CHECKING:
    from records.domain.report_model import Section, SummaryModel

FIRM = Business("Loon Hollow Lawn Care", "480 Cooper Alley", "612-555-0142", "MN-B-990417", "MN", "America/Chicago")


def summary() -> SummaryModel:
    """Return the summary of the invented year."""
    return build_summary(year_rows(), 2026, FIRM, date(2026, 12, 31))


def section(model: SummaryModel, key: str) -> Section:
    """Return one section."""
    return next(found for found in model.sections if found.key == key)


def column(found: Section, key: str) -> list[str]:
    """Return one column of a section's rows."""
    place = [one.key for one in found.columns].index(key)
    return [row[place] for row in found.rows]


def total(found: Section) -> dict[str, str]:
    """Return the total line of a section by column."""
    assert found.total is not None
    return dict(zip([one.key for one in found.columns], found.total, strict=True))


def test_amounts_are_summed_in_the_unit_kind_of_the_form() -> None:
    """13.86 + 6 fl oz and 1.5 pt (24 fl oz) are 43.86 fl oz; grams become pounds; unknown ounces stay apart."""
    products = section(summary(), "by_product")
    assert column(products, "product") == ["Brindle 4L", "Sedgeline 75 WG", "Tarnel", "Spreadwell"]
    assert column(products, "fl_oz") == ["43.86", "", "", "2.69"]
    assert column(products, "gal") == ["0.343", "", "", "0.021"]
    # 2.36 g at 453.59237 g to the pound (NIST SP 811, appendix B)
    assert column(products, "lb") == ["", "0.00520", "", ""]
    assert column(products, "oz_kind_unknown") == ["", "", "12.50", ""]
    assert column(products, "applications") == ["6", "5", "2", "1"]


def test_area_is_in_square_feet_and_acres_of_43560() -> None:
    """29,400 sq ft are 0.675 acre of 43,560 sq ft (Federal Register 85 FR 62698)."""
    products = section(summary(), "by_product")
    assert column(products, "sq_ft") == ["29400", "1200", "", "4200"]
    assert column(products, "acres") == ["0.675", "0.0275", "", "0.0964"]


@pytest.mark.parametrize("key", ["by_product", "by_kind", "by_month", "by_person", "by_site_type", "by_place"])
def test_every_section_has_the_same_total(key: str) -> None:
    """However the year is cut, the sums are the same."""
    model = summary()
    cells = total(section(model, key))
    sums = {name: cells[name] for name in ("applications", "gal", "fl_oz", "lb", "oz_wt", "oz_kind_unknown", "sq_ft")}
    assert sums == {
        "applications": "14",
        "gal": "0.364",
        "fl_oz": "46.55",
        "lb": "0.00520",
        "oz_wt": "0.0832",
        "oz_kind_unknown": "12.50",
        "sq_ft": "34800",
    }
    assert sum(int(count) for count in column(section(model, key), "applications")) == 14


def test_months_without_use_are_listed_as_none() -> None:
    """A month without use is a fact that some states ask for."""
    months = section(summary(), "by_month")
    assert column(months, "month") == [f"2026-{month:02d}" for month in range(1, 13)]
    assert column(months, "applications") == ["0", "0", "0", "0", "5", "3", "0", "4", "2", "0", "0", "0"]


def test_what_is_not_recorded_keeps_its_own_line() -> None:
    """Missing person, county and site type are not dropped."""
    model = summary()
    assert "not recorded" in column(section(model, "by_person"), "applicator")
    assert "not recorded" in column(section(model, "by_place"), "county")
    assert "not recorded" in column(section(model, "by_site_type"), "site_type")


def test_actives_are_in_pounds_and_say_when_not_computable() -> None:
    """Active by product and over all products; an unknown content is counted, not guessed."""
    model = summary()
    assert column(section(model, "by_product"), "active_lb") == [
        "1.3706 lb brindlac acid (acid equivalent)",
        "0.00390 lb carvesulfuron (active ingredient)",
        "tarnelin (active ingredient), not computable for 2 applications",
        "",
    ]
    assert column(section(model, "by_active"), "pounds") == ["1.3706", "0.00390", ""]


def test_deviations_incomplete_and_late_records_are_named() -> None:
    """Counts with the serials, runs folded."""
    attention = section(summary(), "attention")
    assert attention.rows == (
        ("Deviations from label or rules", "1", "2026-000003"),
        ("Incomplete records", "3", "2026-000007 to 2026-000009"),
        ("Entered after their rules' time", "1", "2026-000008"),
    )


def test_json_and_csv_hold_the_strings_of_the_model() -> None:
    """One computation: the three outputs cannot differ."""
    model = summary()
    document = summary_document(model)
    assert document["schema"] == 1
    lines = list(csv.DictReader(io.StringIO(summary_csv(model))))
    for found in model.sections:
        keys = [one.key for one in found.columns]
        rows = [line for line in lines if line["section"] == found.key]
        assert [tuple(row.values()) for row in document["sections"][found.key]["rows"]] == list(found.rows)
        wanted = [*found.rows, *([found.total] if found.total else [])]
        assert [tuple(line[key] for key in keys) for line in rows] == wanted
    assert document["last_seal"] == "5e" * 32


def test_the_csv_has_one_head_and_no_doubled_column() -> None:
    """Every column has a name of its own."""
    head = next(csv.reader(io.StringIO(summary_csv(summary()))))
    assert head[:4] == ["section", "line", "fact", "value"]
    assert len(head) == len(set(head))


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@sum", "\tx", "\rx"])
def test_a_formula_is_neutralised(text: str) -> None:
    """A product named like a formula stays text in a sheet."""
    assert cell(text) == f"'{text}"
    rows = year_rows()
    evil = rows._replace(uses=[rows.uses[0]._replace(product_name='=HYPERLINK("x")')])
    assert "'=HYPERLINK" in summary_csv(build_summary(evil, 2026, FIRM, date(2026, 12, 31)))


def test_an_empty_year_is_still_a_summary() -> None:
    """A nil report has its months, its zeros and no seal."""
    rows = year_rows()._replace(uses=[], targets=[], actives=[], flagged=[], records=0, voided=0, head="")
    model = build_summary(rows, 2026, None, date(2026, 12, 31))
    assert model.facts[1].value == "0"
    assert model.last_seal == "none: the book is empty"
    assert len(model.charts) == 1


@given(top=st.integers(0, 10**20), bottom=st.integers(1, 10**12), places=st.integers(0, 6))
def test_written_numbers_are_within_half_a_digit(top: int, bottom: int, places: int) -> None:
    """Rounded once, half-even, never by more than half of the last digit written."""
    text = fixed(top, bottom, places)
    decimals = len(text.partition(".")[2])
    assert places <= decimals <= 9
    assert abs(Fraction(text) - Fraction(top, bottom)) <= Fraction(1, 2 * 10**decimals)
    assert float(text) >= 0
    assert "e" not in text.lower()


def test_serial_runs_do_not_cross_years() -> None:
    """Runs fold within a year; a held or odd number stands alone."""
    assert serial_ranges(["2026-000002", "2026-000001", "2025-000003", "2026-000005", "odd"]) == (
        "2025-000003, 2026-000001 to 2026-000002, 2026-000005, odd"
    )
