"""Products or plans side by side: what each costs per 1,000 sq ft and per acre."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from statistics import median
from typing import TYPE_CHECKING

from records.domain.numerals import QuantityError
from records.domain.quantities import Per, Quantity, format_number, parse_output
from records.errors import UsageError
from records.rules.allowances import over_label
from records.services.directory import Directory
from records.services.stocking.entries import product_by_id, purchases, read_rate
from records.services.stocking.prices import PriceList
from records.units import Kind

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from records.domain.product import Product
    from records.domain.quantities import Rate
    from records.services.ports import UnitOfWork

USED = 501  # applications that the median is taken from
ACRE = Fraction(43560, 1000)


@dataclass(frozen=True, slots=True)
class PlanPart:
    """One product of a plan."""

    product: str
    rate: str  # as given, or the median
    how: str  # where the rate comes from
    price: Fraction | None  # of a base unit; None: never bought with a price
    per_thousand: Fraction | None
    over: str = ""  # the ceiling of the label that the rate is over


@dataclass(frozen=True, slots=True)
class Plan:
    """One plan: a product, or several that go on together."""

    text: str
    parts: tuple[PlanPart, ...]

    @property
    def per_thousand(self) -> Fraction | None:
        """Return the cost per 1,000 sq ft; None where a part has no price."""
        costs = [part.per_thousand for part in self.parts]
        return None if None in costs else sum((one for one in costs if one is not None), Fraction(0))

    @property
    def per_acre(self) -> Fraction | None:
        """Return the cost per acre of 43,560 sq ft; None where a part has no price."""
        cost = self.per_thousand
        return None if cost is None else cost * ACRE


def compare(
    work: UnitOfWork, texts: Sequence[str], day: date, *, method: str = "broadcast", output: str | None = None
) -> list[Plan]:
    """Return plans with their cost.

    Args:
        work: a unit of work.
        texts: each like `brindle-4l=1.1 fl oz/1000 sq ft + spreadwell=0.25 % v/v`; without a rate, the median used.
        day: until which purchases count for the price.
        method: whose applications the median is taken from.
        output: spray per area, for rates per spray.

    Raises:
        UsageError: a plan cannot be read, or a rate is not known.
        NotFoundError: no such product.
    """
    if not texts:
        raise UsageError("nothing is named to compare", "Name products or plans: brindle-4l 'orlop-3w + spreadwell'")
    spray = _output(output)
    directory, prices = Directory(work.catalogue), PriceList.of(purchases(work))
    plans = []
    for text in texts:
        parts = [_part(work, directory, prices, one, day, method, spray) for one in text.split("+") if one.strip()]
        if not parts:
            raise UsageError(f"{text[:40]!r} names no product", "Write it like 'brindle-4l + spreadwell'")
        plans.append(Plan(" ".join(text.split()), tuple(parts)))
    return plans


def _output(text: str | None) -> Rate | None:
    if text is None:
        return None
    try:
        return parse_output(text)
    except QuantityError as error:
        raise UsageError(str(error)) from error


def _part(
    work: UnitOfWork,
    directory: Directory,
    prices: PriceList,
    text: str,
    day: date,
    method: str,
    spray: Rate | None,
) -> PlanPart:
    key, _, written = (part.strip() for part in text.partition("="))
    product = product_by_id(directory, key)
    if written:
        rate, each, how = written, _given(product, written, spray), "given"
    else:
        each, count = _median(work, product, method)
        unit = "oz wt" if product.form.kind is Kind.WEIGHT else "fl oz"
        shown = Quantity(each * 1000, "fl oz" if unit == "fl oz" else "lb").to(unit)
        rate = f"{format_number(shown, 4)} {unit}/1000 sq ft"
        how = f"median of {count}"
    price = prices.price(product.id, None, day.isoformat())
    cost = None if price is None else each * 1000 * price.each
    over = over_label(product, each)
    return PlanPart(product.id, rate, how, None if price is None else price.each, cost, over)


def _given(product: Product, text: str, spray: Rate | None) -> Fraction:
    """Return the amount per sq ft, in the base unit, of a rate as written."""
    rate = read_rate(product, text)
    if rate.per is Per.AREA:
        return rate.base
    if spray is None:
        raise UsageError(
            f"{product.id}: {rate} is a rate per spray; how much spray goes on an area is not known",
            "Add --output '2 gal/1000 sq ft'",
        )
    return rate.base * spray.base


def _median(work: UnitOfWork, product: Product, method: str) -> tuple[Fraction, int]:
    used = work.records.recent_rates(product.id, method, USED)
    if not used:
        raise UsageError(
            f"{product.id} has no {method} application with an area and an amount in this book",
            f"Give its rate: {product.id}='1.1 fl oz/1000 sq ft'",
        )
    return median(used), len(used)
