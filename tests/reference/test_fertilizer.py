"""Published fertilizer sums, each with its source in fertilizer.json: within the page's rounding, exact beside it."""

from __future__ import annotations

import json
import re
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from records.domain.nutrients import PHOSPHORUS, POTASSIUM, Analysis, parse_grade, parse_share
from records.domain.product import Product, ProductKind
from records.domain.quantities import Form, parse_area, parse_rate
from records.services.nutrients import dose

Row = dict[str, Any]
ROWS: dict[str, Row] = {
    row["id"]: row
    for row in json.loads(Path(__file__).with_name("fertilizer.json").read_text(encoding="utf-8"))["examples"]
}


def bag(grade: str) -> Product:
    """Return a granular fertilizer of a grade."""
    n, p2o5, k2o = parse_grade(grade)
    return Product("bag", "Bag", ProductKind.FERTILIZER, Form.GRANULE, analysis=Analysis(grade, n, p2o5, k2o))


def holds(key: str, name: str, value: Fraction, rounding: str) -> None:
    """The tool's value is the exact one, and within the page's rounding of what it prints."""
    row = ROWS[key]
    found = re.search(rf"(?:^|; ){re.escape(name)}=([0-9]+(?:\.([0-9]+))?)", row["recomputed"])
    assert found is not None
    assert abs(value - Fraction(found[1])) <= Fraction(1, 10 ** len(found[2] or ""))
    if found[2] is None:
        assert value == Fraction(found[1])
    if name in row["expected"]:
        assert abs(value - Fraction(row["expected"][name]["value"])) <= Fraction(rounding)


@pytest.mark.parametrize(
    ("key", "grade", "want", "name", "rounding"),
    [
        ("fert-uga-10-10-10", "10-10-10", "1 lb N", "product_rate", "0"),
        ("fert-uga-16-4-8", "16-4-8", "1 lb N", "product_rate", "0.05"),
        ("fert-uga-5-10-15", "5-10-15", "1 lb N", "product_rate", "0"),
        ("fert-ifas-12-4-8-rounded", "12-4-8", "1 lb N", "product_rounded", "0.5"),
        ("fert-ifas-16-4-8-rounded", "16-4-8", "1 lb N", "product_exact", "0"),
        ("fert-psu-k2o-0-0-22", "0-0-22", "2 lb K2O", "product_rate", "0.05"),
        ("fert-unl-28-3-6-6000", "28-3-6", "1.0 lb N/1000 sq ft", "product_rate", "0.005"),
        ("gran-lsu-broadcast-10x100", "20-0-0", "1 lb N", "product_in_area", "0"),
    ],
)
def test_product_for_a_nutrient(key: str, grade: str, want: str, name: str, rounding: str) -> None:
    """Extension pages: product for 1,000 sq ft from the grade."""
    holds(key, name, dose(bag(grade), want).rate * 1000, rounding)


@pytest.mark.parametrize(
    ("key", "grade", "area", "rounding"),
    [
        ("fert-umd-24-2-12-4550", "24-2-12", "4,550 sq ft", "0.005"),
        ("fert-unl-28-3-6-6000", "28-3-6", "6,000 sq ft", "0.03"),
    ],
)
def test_product_for_a_lawn(key: str, grade: str, area: str, rounding: str) -> None:
    """The whole lawn; Nebraska multiplies the rounded rate and prints 21.42 for 21.43."""
    total = dose(bag(grade), "1 lb N", parse_area(area)).total
    assert total is not None
    holds(key, "product_total", total, rounding)


@pytest.mark.parametrize(
    ("key", "grade", "pounds", "name"),
    [("fert-ifas-12-4-8-rounded", "12-4-8", 8, "n_at_8_lb"), ("fert-ifas-16-4-8-rounded", "16-4-8", 6, "n_at_6_lb")],
)
def test_nitrogen_of_a_rounded_rate(key: str, grade: str, pounds: int, name: str) -> None:
    """What is put on is reckoned from the product used, not from what was wanted."""
    analysis = bag(grade).analysis
    assert analysis is not None
    weights = analysis.of_base(Fraction(pounds))
    assert weights is not None
    holds(key, name, weights.n, "0")


def test_a_bag_holds_oxides() -> None:
    """SOURCE SLIP: 4 lb phosphorus and 8 lb potassium in 100 lb of 16-4-8 are P2O5 and K2O: 1.75 lb P, 6.64 lb K."""
    row = ROWS["fert-ifas-100lb-bag"]
    analysis = bag("16-4-8").analysis
    assert analysis is not None
    weights = analysis.of_base(Fraction(100))
    assert weights is not None
    assert [weights.n, weights.p2o5, weights.k2o] == [Fraction(16), Fraction(4), Fraction(8)]
    assert weights.of("P") == Fraction("1.7456") == 4 * PHOSPHORUS
    assert Fraction("6.6408") == 8 * POTASSIUM
    assert weights.of("P") != Fraction(row["expected"]["P"]["value"])


def test_slow_release_share_of_insoluble_nitrogen() -> None:
    """15-0-15 with 7 % insoluble nitrogen: 46.67 % of the nitrogen."""
    holds("fert-ifas-slow-release-share", "slow_release_share", parse_share("7 %") / Fraction("0.15") * 100, "0.005")


@pytest.mark.parametrize(("name", "low"), [("low_per_acre", "2"), ("high_per_acre", "3.5")])
def test_nitrogen_by_the_acre(name: str, low: str) -> None:
    """Virginia's yearly range, by the acre (the page's figures are from a handbook without an address)."""
    holds("fert-dcr-year-per-acre", name, parse_rate(f"{low} lb/1000 sq ft", Form.DRY).base * 43560, "0")


def test_two_directions_are_one_application() -> None:
    """UMass: half the rate each way is the whole rate; the checks add up all that goes on one day."""
    row = ROWS["gran-umass-two-direction-half"]
    assert Fraction(row["inputs"]["full_rate"]["value"]) / 2 == Fraction(row["expected"]["rate_per_direction"]["value"])


def test_every_row_is_used() -> None:
    """No row of the file goes unseen."""
    source = Path(__file__).read_text(encoding="utf-8")
    assert [key for key in ROWS if f'"{key}"' not in source] == []
