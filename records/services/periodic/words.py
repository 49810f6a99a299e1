"""The checks of periodic reports by code, and how exact numbers are written."""

from __future__ import annotations

from typing import TYPE_CHECKING

from records.domain.quantities import decimal_text

if TYPE_CHECKING:
    from fractions import Fraction

# By code: what it holds against a line. The engine's own words stand in `checks.py`.
CHECKS = (
    "state",  # the record does not say in which state the place is
    "day",  # a month's total where each line is one day
    "day-range",  # work over several days where each line is one day
    "part-month",  # a month's total of which only some days are asked for
    "person",  # nobody, or nobody who may answer for it
    "licence",  # no number of the person's licence
    "licence-state",  # a licence of another state
    "registration",  # no registration number
    "registration-format",  # a number that cannot be one
    "address",  # no street address
    "post-box",  # a post box in place of a street address
    "zip",  # no ZIP code of five digits
    "county",  # no county
    "county-unknown",  # a county that is not on the agency's list
    "site-kind",  # no kind of site
    "amount",  # the amount is not known
    "unit",  # an amount in what is no unit: each, bags
    "ounce",  # an ounce that may be by volume or by weight
    "unit-kind",  # a weight of a liquid, a volume of a dry product
    "mix",  # as much as the spray put out: product and water
    "zero",  # nothing
    "both-kinds",  # one product by volume and by weight
)
_EXACT = 18  # decimals of a number that is written whole
_WHOLE: int = 10**_EXACT
_ROUNDED = 9  # decimals of one that has no end


def is_exact(value: Fraction) -> bool:
    """Tell whether a number is written with its last digit: a gram in ounces has none."""
    return _WHOLE % value.denominator == 0


def number_text(value: Fraction) -> str:
    """Return a number as decimal text: every digit where it ends, else rounded half-even to nine decimals.

    A pint, a cup or an ounce ends in any unit of its kind; a gram in ounces does not.
    """
    return decimal_text(value, _EXACT if is_exact(value) else _ROUNDED)
