"""Active ingredient put on an area, from a rate of product and its content; and the rate of product for an active.

Content is weight per volume (lb/gal) or per cent by weight; rates are exact fractions in base units: fl oz or lb of
product, lb of active, each per sq ft. The basis, active ingredient (a.i.) or acid equivalent (a.e.), is that of the
content: a figure on one basis says nothing about the other without the weights of salt and acid.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from records.domain.numerals import QuantityError
from records.domain.quantities import Form, Per, Rate, decimal_text, parse_rate, scaled_text
from records.units import Kind, factor

if TYPE_CHECKING:
    from fractions import Fraction

# What the trade measures by, on the acre and on 1,000 sq ft: the unit and its decimals.
_UNITS = {
    Kind.VOLUME: ((("gal", "qt", "pt", "fl oz"), "acre"), (("fl oz", "mL"), "1000 sq ft")),
    Kind.WEIGHT: ((("lb", "oz wt", "g"), "acre"), (("lb", "oz wt", "g"), "1000 sq ft")),
}
_AREAS = {"acre": 43560, "1000 sq ft": 1000}


def parse_want(text: object, what: str = "wanted active") -> Rate:
    """Read a weight of active per area, such as `1.5 lb/acre`.

    Raises:
        QuantityError: no weight per area.
    """
    rate = parse_rate(text, Form.DRY, what)
    if rate.per is not Per.AREA:
        raise QuantityError(f"{what} {rate} is not per area; write it like 1.5 lb/acre")
    return rate


def active_per_area(rate: Rate, pounds_per_base: Fraction) -> Fraction:
    """Return the active that a rate of product puts on, in lb per sq ft.

    Args:
        rate: of product, per area.
        pounds_per_base: lb of active per base unit of product (fl oz, or lb).

    Raises:
        QuantityError: a rate per gallon of spray puts on what the spray is spread over, which it does not say.
    """
    if rate.per is not Per.AREA:
        raise QuantityError(f"rate {rate} is per spray, not per area; write it like 3 pt/acre or 1.1 fl oz/1000 sq ft")
    return rate.base * pounds_per_base


def product_per_area(active: Fraction, pounds_per_base: Fraction) -> Fraction:
    """Return the product, in base units per sq ft, that holds so many lb of active per sq ft."""
    return active / pounds_per_base


def in_unit(base: Fraction, unit: str, per: str) -> Fraction:
    """Return a rate in base units per sq ft in a unit per acre or per 1,000 sq ft."""
    return base * _AREAS[per] / factor(unit)


def rates_of(base: Fraction, kind: Kind) -> list[tuple[str, Fraction]]:
    """Return a rate of product in the units of the trade, each with its unit.

    Args:
        base: base units per sq ft.
        kind: of the product: volume or weight.
    """
    return [(f"{unit}/{per}", in_unit(base, unit, per)) for units, per in _UNITS[kind] for unit in units]


def significant(value: Fraction, digits: int = 4) -> str:
    """Write a number with so many significant digits, as it is measured by."""
    return decimal_text(value, _places(value, digits))


def at_least(value: Fraction, digits: int = 4) -> str:
    """Write what is left of a limit with so many significant digits, rounded down: never more than there is."""
    places = _places(value, digits)
    return scaled_text(int(value * 10**places), places)


def _places(value: Fraction, digits: int) -> int:
    """Return the decimals that show so many significant digits; none of a number that has as many before the point."""
    places = digits - 1
    while places > 0 and value >= 10 ** (digits - places):
        places -= 1
    while value and value * 10**places < 10 ** (digits - 1) and places < 9:
        places += 1
    return places
