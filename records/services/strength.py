"""A rate of product as active ingredient, and back, for products of the book and for a content given by hand."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from records.domain.numerals import QuantityError
from records.domain.product import Active
from records.domain.quantities import Form, format_number, parse_rate
from records.domain.strength import active_per_area, in_unit, parse_want, product_per_area, rates_of, significant
from records.errors import InputError, UsageError
from records.rules.allowances import over_label
from records.services.reading.products import read_content, read_density

if TYPE_CHECKING:
    from fractions import Fraction

    from records.domain.product import Product
    from records.services.ports import Json

FORMS = {form.value: form for form in (Form.LIQUID, Form.DRY, Form.GRANULE)}


def given_content(
    content: str, form: str | None, basis: str | None, density: str | None = None
) -> tuple[Form, tuple[Active, ...]]:
    """Return a content that was given by hand as a form with its one active.

    Args:
        content: such as `4 lb/gal` or `75 %`.
        form: of the product.
        basis: `ai` or `ae`.
        density: of a liquid whose content is in per cent by weight.

    Raises:
        UsageError: form or basis is none.
        InputError: the content is not understood.
    """
    kind = FORMS.get((form or "").lower())
    if form is None:
        raise UsageError("--content needs --form: the same figure means another thing", "One of: liquid, dry, granule")
    if kind is None:
        raise UsageError(f"--form {form[:20]!r} is not known", "One of: liquid, dry, granule")
    if basis is not None and basis not in {"ai", "ae"}:
        raise UsageError(f"--basis {basis[:20]!r} is not known", "ai for active ingredient, ae for acid equivalent")
    try:
        held = read_content(content, kind, None if density is None else read_density(density))
    except QuantityError as error:
        raise InputError(str(error), "Write it as on the label: 4 lb/gal, 75 %") from error
    return kind, (Active("the active", held, basis or "ai"),)


def parts_of(words: list[str], want: str | None, held: tuple[Active, ...], name: str) -> str | None:
    """Return the rate among what was typed; None where a wanted active is given in its place.

    Raises:
        UsageError: neither or both are given, or more.
        InputError: the product has no active.
    """
    if not held:
        raise InputError(f"{name} has no active ingredient in the book", "Load it with its actives")
    if len(words) > 1:
        raise UsageError(f"{words[1][:40]!r} is one word too many", "Put a rate in quotes, such as '3 pt/acre'")
    if (want is None) != bool(words):
        raise UsageError("give a rate of product, or --want with a rate of active: one of the two", "See --help")
    return words[0] if words else None


def _known(active: Active) -> Fraction:
    per_base = active.content.pounds_per_base
    if per_base is None:
        raise InputError(
            f"the content of {active.name}, {active.content.text}, is by weight of a liquid", "Give its density"
        )
    return per_base


def actives_of(form: Form, held: tuple[Active, ...], rate: str, product: Product | None = None) -> list[Json]:
    """Return each active that a rate of product puts on.

    Args:
        form: of the product.
        held: its actives.
        rate: of product, per area.
        product: of the book, whose label may not allow as much.

    Raises:
        InputError: the rate is not understood, or is not per area.
    """
    found: list[dict[str, Any]] = []
    for active in held:
        try:
            put = parse_rate(rate, form)
            base = active_per_area(put, _known(active))
        except QuantityError as error:
            raise InputError(str(error), "Write a rate of product per area, with its unit") from error
        found.append(
            {
                "active": active.name,
                "content": active.content.text,
                "basis": active.basis,
                "lb_per_acre": significant(in_unit(base, "lb", "acre")),
                "lb_per_1000_sq_ft": significant(in_unit(base, "lb", "1000 sq ft")),
                "lb_per_acre_exact": format_number(in_unit(base, "lb", "acre"), 9),
                "over_label": None if product is None else over_label(product, put.base) or None,
            }
        )
    return found


def products_of(form: Form, held: tuple[Active, ...], want: str, product: Product | None = None) -> list[Json]:
    """Return the rate of product for a wanted active, once for each active it holds.

    Args:
        form: of the product.
        held: its actives.
        want: weight of active per area.
        product: of the book, whose label may not allow as much.

    Raises:
        InputError: what is wanted is not understood, or is nothing.
    """
    try:
        wanted = parse_want(want)
    except QuantityError as error:
        raise InputError(str(error), "Write a weight of active per area, such as 1.5 lb/acre") from error
    if not wanted.base:
        raise InputError(f"{want.strip()[:40]!r} is nothing to put on", "Write what is wanted, such as 1.5 lb/acre")
    found: list[dict[str, Any]] = []
    for active in held:
        base = product_per_area(wanted.base, _known(active))
        found.append(
            {
                "active": active.name,
                "content": active.content.text,
                "basis": active.basis,
                "product": {unit: significant(value) for unit, value in rates_of(base, form.kind)},
                "over_label": None if product is None else over_label(product, base) or None,
            }
        )
    return found
