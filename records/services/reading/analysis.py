"""The analysis of a fertilizer, read from a loaded product."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

from records.domain.nutrients import KINDS, Analysis, parse_grade, parse_share
from records.domain.product import ProductKind
from records.domain.quantities import Form

if TYPE_CHECKING:
    from records.domain.loaded import Table

ABOUT = ("slow_release", "insoluble_n", "nutrient_kind")


def read_analysis(table: Table, kind: ProductKind, form: Form, density: Fraction | None) -> Analysis | None:
    """Return the guaranteed analysis of a product; None where it has none, or beside a problem.

    Args:
        table: of the product.
        kind: what the law takes it for; an adjuvant has no analysis.
        form: a liquid needs its density.
        density: lb per fl oz, of a liquid.
    """
    grade = table.amount("analysis", parse_grade, "16-4-8")
    slow = table.amount("slow_release", parse_share, "30 %")
    insoluble = table.amount("insoluble_n", parse_share, "7 %")
    stated = table.choice("nutrient_kind", KINDS)
    if not table.has("analysis"):
        for key in ABOUT:
            if table.has(key):
                table.problem(key, "goes with an analysis; give one, such as 16-4-8, or leave it out")
        return None
    if kind is ProductKind.ADJUVANT:
        table.problem("analysis", "does not go with kind adjuvant; use kind fertilizer")
        return None
    if grade is None:
        return None
    if form is Form.LIQUID and density is None and not table.has("density"):
        table.missing("density", "nutrients are by weight: a liquid with an analysis needs it, such as 10.7 lb/gal")
    if slow is not None and insoluble is not None:
        table.problem("insoluble_n", "says the same as slow_release in another way; give one of the two")
    n, p2o5, k2o = grade
    if insoluble is not None:
        if insoluble > n:
            table.problem("insoluble_n", "is more than all of the nitrogen; it is per cent of the product by weight")
            return None
        slow = insoluble / n if n else None
    weight = density if form is Form.LIQUID else Fraction(1)
    return Analysis(table.text("analysis").replace(" ", ""), n, p2o5, k2o, slow, stated, weight)
