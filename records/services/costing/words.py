"""Costs as JSON and as texts."""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache
from typing import TYPE_CHECKING

from records.domain.quantities import decimal_text
from records.domain.stock import ratio_text
from records.services.costing.report import ACRE, NANO
from records.services.stocking.entries import CURRENCY

if TYPE_CHECKING:
    from records.services.costing.compare import Plan
    from records.services.costing.report import CostReport, CostRow
    from records.services.ports import Json

EXACT = 6  # decimals of money in JSON


def dollars(amount: Fraction | None) -> str:
    """Return money with two decimals and its sign; "" where it is not known."""
    if amount is None:
        return ""
    text = decimal_text(abs(amount), 2)
    whole, _, cents = text.partition(".")
    return f"{'-' if amount < 0 else ''}${int(whole):,}.{cents.ljust(2, '0')}"


def exact(amount: Fraction | None) -> str | None:
    """Return money as plain decimal text."""
    return None if amount is None else decimal_text(amount, EXACT)


def thousands(row: CostRow) -> str:
    """Return the treated area in thousands of sq ft."""
    return decimal_text(Fraction(row.area, NANO * 1000), 1) if row.area else ""


def cost_document(report: CostReport) -> Json:
    """Return a report as JSON."""
    return {
        "per": report.per,
        "from": report.since.isoformat(),
        "to": report.until.isoformat(),
        "currency": CURRENCY,
        "rows": [_row(row) for row in report.rows],
        "total": _row(report.total),
    }


@lru_cache(maxsize=4096)
def _square_feet(area: int) -> str:
    return ratio_text(area, NANO, 6)


def _row(row: CostRow) -> Json:
    is_priced, area = row.is_priced, row.area - row.unpriced_area
    per_area = row.bottom * area if is_priced and area > 0 else 0
    return {
        "key": row.key,
        "words": row.words,
        "applications": row.applications,
        "area": f"{_square_feet(row.area)} sq ft",
        "unpriced_area": f"{_square_feet(row.unpriced_area)} sq ft" if row.unpriced_area else "0 sq ft",
        "no_area": row.no_area,
        "cost": ratio_text(row.paid, row.bottom, EXACT) if is_priced else None,
        "adjuvants": ratio_text(row.paid_adjuvants, row.bottom, EXACT) if row.paid_adjuvants else "0",
        "per_1000_sq_ft": ratio_text(row.paid * 1000 * NANO, per_area, EXACT) if per_area else None,
        "per_acre": ratio_text(row.paid * ACRE * NANO, per_area, EXACT) if per_area else None,
        "priced_by_lot": row.by_lot,
        "priced_by_average": row.by_average,
        "no_price": row.unpriced,
    }


def plans_document(plans: list[Plan]) -> Json:
    """Return plans side by side as JSON."""
    return {
        "currency": CURRENCY,
        "plans": [
            {
                "plan": plan.text,
                "per_1000_sq_ft": exact(plan.per_thousand),
                "per_acre": exact(plan.per_acre),
                "products": [
                    {
                        "product": part.product,
                        "rate": part.rate,
                        "rate_from": part.how,
                        "per_1000_sq_ft": exact(part.per_thousand),
                        "over_label": part.over or None,
                    }
                    for part in plan.parts
                ],
            }
            for plan in plans
        ],
    }
