"""Published values: what things cost, and each stop's share of a load.

The examples stand in cost.json with their sources. `exact` is ours to the last digit; the published value is met within
the rounding that the source shows. Costs per pound of nitrogen go the way that a purchase goes: the price of a ton
bought becomes the price of a pound, and the analysis says how much of it is nitrogen.
"""

from __future__ import annotations

import json
from datetime import date
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from records.domain.mixing import share
from records.domain.quantities import Form, decimal_text, parse_amount, parse_area, parse_volume
from records.services.costing.compare import Plan, PlanPart
from records.services.costing.report import CostRow
from records.services.stocking import log_bought, unit_price
from tests.kit import Kit

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

Example = dict[str, Any]
Values = dict[str, Fraction]
EXAMPLES: dict[str, Example] = {
    one["id"]: one for one in json.loads(Path(__file__).with_name("cost.json").read_text("utf-8"))["examples"]
}
DAY = date(2026, 5, 14)
NANO = 10**9


@pytest.fixture
def kit(tmp_path: Path) -> Iterator[Kit]:
    made = Kit.at(tmp_path)
    yield made
    made.shut()


def _number(example: Example, name: str) -> Fraction:
    return Fraction(example["inputs"][name]["value"])


def _pound(kit: Kit, dollars: Fraction) -> Fraction:
    """Return what a pound costs of a product bought by the ton."""
    with kit.book.write() as work:
        log_bought(work, kit.clock.now(), "ambrel-g", "1 ton", price=str(dollars))
        price = unit_price(work, "ambrel-g", DAY)
    assert price is not None
    return price


def _nitrogen(kit: Kit, dollars: Fraction, percent: Fraction) -> Fraction:
    return _pound(kit, dollars) / (percent / 100)


def _in_a_ton(percent: Fraction) -> Fraction:
    return parse_amount("1 ton", Form.GRANULE).base * percent / 100


def _urea_and_nitrate(kit: Kit, example: Example) -> Values:
    nitrate = _number(example, "an_N")
    return {
        "urea": _nitrogen(kit, _number(example, "urea_price"), _number(example, "urea_N")),
        "an": _nitrogen(kit, _number(example, "an_price"), nitrate),
        "an_n_per_ton": _in_a_ton(nitrate),
    }


def _solution(kit: Kit, example: Example) -> Values:
    cost = _nitrogen(kit, _number(example, "price"), _number(example, "analysis_N"))
    urea = EXAMPLES["cost-uwex-urea-700"]
    other = _nitrogen(kit, _number(urea, "price"), _number(urea, "analysis_N"))
    return {
        "n_per_ton": _in_a_ton(_number(example, "analysis_N")),
        "cost_per_lb_n": cost,
        "more_than_urea": cost - other,
    }


def _urea(kit: Kit, example: Example) -> Values:
    percent = _number(example, "analysis_N")
    return {
        "n_per_ton": _in_a_ton(percent),
        "cost_per_lb_n": _nitrogen(kit, _number(example, "price"), percent),
    }


def _acres(_: Kit, example: Example) -> Values:
    """A plan and a row of costs say the same per acre; what the source gives per acre is our cost per 1,000 sq ft."""
    acre = _number(example, "cost")
    plan = Plan("", (PlanPart("", "", "", Fraction(1), acre / parse_area("1 acre").base * 1000),))
    assert plan.per_acre == acre
    found = {"cost": acre}
    for place in ("fairways", "rough"):
        area = parse_area(f"{_number(example, place)} acre").base
        row = CostRow(place, area=int(area * NANO), paid=int(acre * _number(example, place)), by_lot=1)
        found[f"{place}_total"] = row.cost
        assert row.per_acre == acre
        assert row.per_thousand == plan.per_thousand
        assert row.per_thousand is not None
        found["per_1000_sq_ft"] = row.per_thousand
    return found


def _share(_: Kit, example: Example) -> Values:
    parts = {name: f"{part['value']} {part['unit']}" for name, part in example["inputs"].items()}
    amount = share(
        parse_amount(parts["product"], Form.LIQUID), parse_volume(parts["used"]), parse_volume(parts["made"])
    )
    return {"amount": amount.value}


WAYS: dict[str, Callable[[Kit, Example], Values]] = {
    "cost-noble-urea-an": _urea_and_nitrate,
    "cost-usga-200-per-acre": _acres,
    "cost-uwex-uan28-600": _solution,
    "cost-uwex-urea-700": _urea,
    "share-of-a-load-applied": _share,
}


@pytest.mark.parametrize("name", EXAMPLES)
def test_a_published_value(name: str, kit: Kit) -> None:
    """Equal to the exact value, and within the source's own rounding of the published one."""
    example = EXAMPLES[name]
    found = WAYS[name](kit, example)
    assert found == {key: Fraction(value) for key, value in example["exact"].items()}
    within = Fraction("0.005") if example["tolerance"] == "abs 0.005" else Fraction(0)
    for key, part in example["expected"].items():
        assert abs(found[key] - Fraction(part["value"])) <= within, key


@pytest.mark.parametrize("name", EXAMPLES)
def test_what_was_recomputed_stands_beside_it(name: str) -> None:
    """The decimals beside each example are those of its exact values."""
    example = EXAMPLES[name]
    for part in example["recomputed"].split("; "):
        key, _, value = part.rpartition("=")
        exact = example["exact"].get(key.replace("sqft", "sq_ft") or "amount")
        assert exact is not None, key
        assert decimal_text(Fraction(exact), 6) == value


def test_every_example_is_tested() -> None:
    assert set(WAYS) == set(EXAMPLES)
    assert all(one["source"]["url"].startswith("http") for one in EXAMPLES.values())
