"""Round numbers for the axis of a picture."""

from __future__ import annotations

from fractions import Fraction
from math import ceil, floor

_STEPS = (1, 2, 5)


def ticks(low: Fraction, high: Fraction, most: int) -> list[Fraction]:
    """Return at most so many round numbers, evenly apart, from `low` or below to `high` or above.

    Steps are 1, 2 or 5 times a power of ten, the smallest that will do. Nothing to span becomes a span of one.

    Args:
        low: least value shown.
        high: greatest.
        most: how many numbers there is room for, at least 2.
    """
    most = max(most, 2)
    if high <= low:
        high = low + 1
    power = Fraction(1)
    while (high - low) / power > 10:
        power *= 10
    while (high - low) / power <= 1:
        power /= 10
    power /= 10
    while True:
        for step in _STEPS:
            first, last = floor(low / (step * power)), ceil(high / (step * power))
            if last - first < most:
                return [number * step * power for number in range(first, last + 1)]
        power *= 10
        if power > 100 * (high - low):  # two numbers are room for everything but a span around zero
            return [low, high]
