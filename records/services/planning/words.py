"""How the figures of a plan read: short for the eye, exact where it is measured."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

from records.domain.measuring import handy, significant
from records.domain.quantities import decimal_text, format_number

if TYPE_CHECKING:
    from collections.abc import Sequence

    from records.domain.product import PrintedRate, Use
    from records.domain.quantities import Quantity, Rate


def number(value: Fraction, places: int = 2) -> str:
    """Write a number for the eye: thousands parted, at most so many decimals, more where it is small."""
    if value and abs(value) < Fraction(1, 10):
        return decimal_text(value, 4) if abs(value) >= Fraction(1, 1000) else significant(value)
    whole, point, rest = decimal_text(value, places).partition(".")
    return f"{int(whole):,}{point}{rest}"


def short(amount: Quantity, places: int = 2) -> str:
    """Write an amount for the eye."""
    return f"{number(amount.value, places)} {amount.unit}"


def rate_words(rate: Rate) -> str:
    """Write a rate: as typed, or with few digits where it was worked out."""
    return str(rate) if rate.number else f"{significant(rate.value, 4)} {rate.unit_text}"


def exact_rate(rate: Rate) -> str:
    """Write a rate for a machine: as typed, or to nine decimals where it was worked out."""
    return str(rate) if rate.number else f"{format_number(rate.value, 9)} {rate.unit_text}"


def dose_words(rate: Rate) -> str:
    """Write a dose per gallon: as typed, or in a unit that is measured, three significant digits."""
    if rate.number:
        return str(rate)
    value, unit = handy(rate.unit, rate.value)
    return f"{significant(value)} {unit}/{rate.per_unit}"


def printed_words(rate: PrintedRate) -> str:
    """Write one printed basis with its ends: `0.8 to 1.1 fl oz/1000 sq ft`."""
    low, high = rate.low, rate.high
    if low is None or high is None:
        return f"at most {high}" if low is None else f"at least {low}"
    if low.base == high.base:
        return str(high)
    if low.unit_text == high.unit_text:
        return f"{low.number} to {high}"
    return f"{low} to {high}"


def printed_uses(uses: Sequence[Use]) -> str:
    """Write what a label prints for the uses that apply, each basis once."""
    return ", or ".join(dict.fromkeys(printed_words(rate) for use in uses for rate in use.rates))
