"""Areas of plain figures from their lengths: feet in, square feet out, exact but for circles and square roots.

The circle number is taken to fifty decimals, a square root to thirty, both as fractions: the same figures give the same
area on every machine, and no binary float is involved.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from math import isqrt
from typing import TYPE_CHECKING

from records.domain.numerals import ZERO, QuantityError

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from records.domain.quantities import Quantity

PI = Fraction("3.14159265358979323846264338327950288419716939937510")
ROOT_DECIMALS = 30
_SCALE: int = 10**ROOT_DECIMALS


class OffsetRule(StrEnum):
    """How evenly spaced cross widths make an area; on one published lawn the rules differ by a fifth."""

    MEAN = "mean"  # the mean of the widths x the whole length, ends that come to a point left out
    TRAPEZOID = "trapezoid"  # straight edges between neighbours
    SIMPSON = "simpson"  # curved edges through three neighbours each


HOW = ("wheel", "tape", "map", "estimate")  # how an area was measured


@dataclass(frozen=True, slots=True)
class Measured:
    """How the area of a zone is known: with what, when, by whom, and the figures it was worked out from."""

    how: str  # one of `HOW`
    on: date | None
    by: str  # a person of the book, by id, or a name; "" where nobody is named
    figures: tuple[str, ...]  # as `records/domain/figures.py` reads them
    area: Quantity | None  # their sum; None without figures


def square_root(value: Fraction) -> Fraction:
    """Return a square root, cut after thirty decimals; that of a square is exact.

    Raises:
        ValueError: the number is below zero.
    """
    if value < 0:
        msg = "no root of a number below zero"
        raise ValueError(msg)
    top, bottom = isqrt(value.numerator), isqrt(value.denominator)
    if top * top == value.numerator and bottom * bottom == value.denominator:
        return Fraction(top, bottom)
    return Fraction(isqrt(value.numerator * _SCALE * _SCALE // value.denominator), _SCALE)


def rectangle(length: Fraction, width: Fraction) -> Fraction:
    """Return the area of a rectangle."""
    return length * width


def triangle(base: Fraction, height: Fraction) -> Fraction:
    """Return the area of a triangle by one side and the height over it."""
    return base * height / 2


def triangle_of_sides(a: Fraction, b: Fraction, c: Fraction) -> Fraction:
    """Return the area of a triangle by its three sides (Heron).

    Raises:
        QuantityError: two sides together do not reach beyond the third.
    """
    longest = max(a, b, c)
    if a + b + c <= 2 * longest:
        raise QuantityError("the two shorter sides of the triangle together have to be longer than the third")
    half = (a + b + c) / 2
    return square_root(half * (half - a) * (half - b) * (half - c))


def trapezoid(a: Fraction, b: Fraction, height: Fraction) -> Fraction:
    """Return the area of a trapezoid by its two parallel sides and the distance between them."""
    return (a + b) / 2 * height


def trapezoid_height(a: Fraction, b: Fraction, slant: Fraction, other: Fraction) -> Fraction:
    """Return the distance between the parallel sides of a trapezoid, from its two slanting sides.

    Raises:
        QuantityError: no trapezoid has such sides, or they are the same for many.
    """
    over = abs(a - b)
    if not over:
        raise QuantityError(
            "the parallel sides are equal, so the slants do not tell the height; measure it: 40 ft high"
        )
    if slant + other <= over or abs(slant - other) >= over:
        raise QuantityError("no trapezoid has sides of these lengths; measure them again, or give the height")
    foot = (over * over + slant * slant - other * other) / (2 * over)
    return square_root(slant * slant - foot * foot)


def circle(diameter: Fraction) -> Fraction:
    """Return the area of a circle by its width."""
    return PI * diameter * diameter / 4


def ellipse(length: Fraction, width: Fraction) -> Fraction:
    """Return the area of an ellipse by its two whole axes."""
    return PI * length * width / 4


def l_shape(length: Fraction, width: Fraction, corner_length: Fraction, corner_width: Fraction) -> Fraction:
    """Return the area of a rectangle with a smaller one missing at a corner.

    Raises:
        QuantityError: the corner does not fit into the rectangle.
    """
    if not ((corner_length < length and corner_width < width) or (corner_length < width and corner_width < length)):
        raise QuantityError("the missing corner is as large as the rectangle; give the outer length and width first")
    return length * width - corner_length * corner_width


def by_offsets(spacing: Fraction, widths: Sequence[Fraction], rule: OffsetRule) -> Fraction:
    """Return the area of an irregular lawn by its widths across a long axis, evenly spaced from one end to the other.

    Args:
        spacing: between two neighbours.
        widths: from end to end, the ends included: zero where the lawn comes to a point.
        rule: how they make an area.

    Raises:
        QuantityError: too few widths for an area, or a number of them that Simpson's rule cannot take.
    """
    if len(widths) < 3 or not any(widths):
        raise QuantityError(
            "the offset method needs three widths or more, from end to end (0 where it comes to a point)"
        )
    length = spacing * (len(widths) - 1)
    if rule is OffsetRule.MEAN:
        inner = list(widths)
        for end in (0, -1):
            if not inner[end]:
                del inner[end]
        return length * sum(inner, ZERO) / len(inner)
    ends = widths[0] + widths[-1]
    if rule is OffsetRule.TRAPEZOID:
        return spacing * (ends / 2 + sum(widths[1:-1], ZERO))
    if len(widths) % 2 == 0:
        raise QuantityError(
            f"Simpson's rule takes an odd number of widths, as it fits a curve over pairs of strips; these are "
            f"{len(widths)}: measure one more, or say by trapezoid"
        )
    return spacing / 3 * (ends + 4 * sum(widths[1:-1:2], ZERO) + 2 * sum(widths[2:-1:2], ZERO))
