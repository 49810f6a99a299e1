"""What a sealed body keeps of fertilizer: the analysis, the nutrients put on, and what the rules asked about."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING, Any

from records.domain.nutrients import NutrientUse, Weights, share_text
from records.domain.quantities import decimal_text
from records.units import UNITS, Kind, factor

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from datetime import date

    from records.domain.nutrients import Analysis
    from records.domain.product import Product
    from records.domain.visit import Line, Treatment
    from records.services.ports import Json

STEP = 9  # decimals of a pound kept
_KEYS = (("n", "n"), ("p2o5", "p2o5"), ("k2o", "k2o"), ("soluble_n", "soluble"))


def analysis_body(analysis: Analysis) -> Json:
    """Return what a product freezes of its analysis; older records have none of it."""
    kept: Json = {"analysis": analysis.text}
    if analysis.slow is not None:
        kept["slow_release"] = share_text(analysis.slow)
    if analysis.kind:
        kept["nutrient_kind"] = analysis.kind
    return kept


def nutrients_body(line: Line) -> Json:
    """Return the nutrients of an application, in lb; nothing for a product without an analysis."""
    analysis, amount = line.product.analysis, line.amount
    if analysis is None:
        return {}
    known = amount is not None and amount.kind in {Kind.VOLUME, Kind.WEIGHT}
    weights = analysis.weights(amount) if known and amount is not None else None
    values = (None,) * 4 if weights is None else weights
    named = dict(zip(Weights._fields, values, strict=True))
    return {"nutrients": {key: _text(named[name]) for key, name in _KEYS}}


def _text(pounds: Fraction | None) -> str | None:
    return None if pounds is None else decimal_text(pounds, STEP)


def ground_body(treatment: Treatment) -> Json:
    """Return what a treatment says about water, spreader, soil test, turf and ground, where it says anything."""
    kept: Json = {}
    if treatment.water_distance is not None:
        kept["water_distance"] = str(treatment.water_distance)
    if treatment.deflector is not None:
        kept["deflector"] = treatment.deflector
    if treatment.soil_test is not None:
        kept["soil_test"] = treatment.soil_test.isoformat()
    for key, text in (("turf_stage", treatment.turf_stage), ("ground", treatment.ground)):
        if text:
            kept[key] = text
    return kept


def weights_of(line: Json) -> Weights | None:
    """Return the nutrients of a sealed application in lb; None where they are not known."""
    kept = line["nutrients"]
    if kept["n"] is None:
        return None
    soluble = kept.get("soluble_n")
    return Weights(
        Fraction(kept["n"]),
        Fraction(kept["p2o5"]),
        Fraction(kept["k2o"]),
        None if soluble is None else Fraction(soluble),
    )


def number(text: str | None) -> Fraction | None:
    """Return the number of a sealed amount or area."""
    return None if text is None else Fraction(text.partition(" ")[0])


def nutrient_uses(
    serial: str, day: date, body: Json, find: Callable[[str], Product | None] | None = None
) -> Iterator[NutrientUse]:
    """Yield what a sealed body says of nutrients, for each zone that it names.

    Args:
        serial: of the record.
        day: of the application.
        body: as sealed.
        find: returns a product of the book by its id: its analysis counts for what was sealed without any, marked so.
    """
    for treatment in body["treatments"]:
        for line in treatment["applications"]:
            product = line["product"]
            if line.get("nutrients"):
                text, kind, weights = product["analysis"], product.get("nutrient_kind", ""), weights_of(line)
            else:
                now = find(product["id"]) if find is not None and product.get("id") else None
                if now is None or now.analysis is None:
                    continue
                text, kind, weights = now.analysis.text, now.analysis.kind, _later_weights(line, now)
            amount, least = number(line["amount"]), number(line.get("least"))
            for zone in treatment["zones"]:
                yield NutrientUse(
                    serial=serial,
                    day=day,
                    zone=zone["id"],
                    product=product["id"],
                    name=product["name"],
                    analysis=text,
                    kind=kind,
                    weights=weights,
                    low=min(least / amount, Fraction(1)) if amount and least is not None else Fraction(1),
                    area=number(line["area"]),
                    treated=number(zone["treated"]),
                    later=not line.get("nutrients"),
                )


def _later_weights(line: Json, now: Product) -> Weights | None:
    """Return the nutrients of an application by the analysis of its product in the book now."""
    amount = line["amount"]
    unit = UNITS.get((amount or "").partition(" ")[2])
    if now.analysis is None or not amount or unit is None or unit.kind is not now.form.kind:
        return None
    return now.analysis.of_base(Fraction(amount.partition(" ")[0]) * factor(amount.partition(" ")[2]))


def told(line: Json) -> str:
    """Return the nutrients of a sealed application in words; "" where it holds none.

    Args:
        line: an application of a body.
    """
    if not line.get("nutrients"):
        return ""
    product, weights, area = line["product"], weights_of(line), number(line["area"])
    slow = f", {product['slow_release']} of the N slow-release" if product.get("slow_release") else ""
    head = f"{product['analysis']}{slow}"
    if weights is None:
        return f"{head}; weight not known"
    if not area:
        return f"{head}: {_three(weights, 1)} lb in all"
    return f"{head}: {_three(weights.over(area), 1000)} lb/1000 sq ft"


def per_area(line: Json) -> tuple[str, list[tuple[str, str]]] | None:
    """Return the grade of a sealed application with its nutrients by area, as symbol and amount.

    Args:
        line: an application of a body.

    Returns:
        None where it holds no nutrients; no amounts where weight or area is not known.
    """
    if not line.get("nutrients"):
        return None
    weights, area = weights_of(line), number(line["area"])
    if weights is None or not area:
        return line["product"]["analysis"], []
    each = weights.over(area)
    parts = (("N", each.n), ("P2O5", each.p2o5), ("K2O", each.k2o))
    named = [(name, f"{decimal_text(value * 1000, 3)} lb/1000 sq ft") for name, value in parts if value]
    return line["product"]["analysis"], named


def _three(weights: Weights, size: int) -> str:
    parts: tuple[tuple[str, Any], ...] = (("N", weights.n), ("P2O5", weights.p2o5), ("K2O", weights.k2o))
    return ", ".join(f"{name} {decimal_text(value * size, 3)}" for name, value in parts)
