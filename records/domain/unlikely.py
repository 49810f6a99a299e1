"""Tells when a rate is far from what the book itself holds for that product and method.

The measure is the median: a slipped decimal point in the history does not move it. Five times the median, both ways,
and at least five earlier records are measured, not guessed (`tests/unit/test_unlikely_measure.py`):

- California DPR, pesticide use report 2018, 25 counties: of the 186 uses whose amount, area or area unit DPR's outlier
  check altered, 176 have a rate on both sides. Taking the accepted rate (mostly the median of product and site) for
  the usual one, five times catches 158 of them (89.8 %; 84.9 % of all 186): 133 of 138 altered amounts, 10 of 10
  altered units and 15 of 28 altered areas, the other 13 being within five times. Three times would catch 160, ten
  times 148.
- The same year's turf and landscape uses, 2,432 of which 886 have an area: each against the median of the others of its
  product and site, where there are at least five, 527 can be judged and 40 are far off: 7.6 % of those judged, 4.5 % of
  those with a rate, 1.6 % of all; 32 of the 40 are of one grower (8 of 371 without it, 2.2 %). Three times would flag
  66, ten times 8. Asking for eight earlier records instead of five flags the same 40 but judges only 433.

The second set is what DPR stored after its check, and only 1 use is in both files, so how often the two would be told
apart in one and the same book is not measured here.
"""

from __future__ import annotations

from bisect import bisect_left, insort
from collections import deque
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable
    from fractions import Fraction

FACTOR = 5
MINIMUM = 5


@dataclass(frozen=True, slots=True)
class UnlikelyVerdict:
    """How far a rate is from the usual one.

    Attributes:
        rate: judged; any unit, the same as `median`.
        median: of the earlier rates.
        ratio: rate over median, dimensionless; above 1 is more than usual.
        count: earlier rates compared with.
    """

    rate: Fraction
    median: Fraction
    ratio: Fraction
    count: int


def _keyed(rate: Fraction) -> tuple[int, Fraction]:
    """Return a rate behind its whole billionths, which order nearly all rates without comparing fractions."""
    return rate.numerator * 10**9 // rate.denominator, rate


class Usual:
    """The last rates of a product and method, also in order of size, so that their median is at hand."""

    def __init__(self, rates: Iterable[Fraction], most: int | None = None) -> None:
        """Begin with some rates.

        Args:
            rates: oldest first; those of zero say nothing and do not count.
            most: rates kept, the oldest go first; None: all.
        """
        self._recent = deque(rates)
        self._most = most
        self._ordered = sorted(_keyed(rate) for rate in self._recent if rate.numerator > 0)

    def add(self, rate: Fraction) -> None:
        """Add the newest rate."""
        self._recent.append(rate)
        if rate.numerator > 0:
            insort(self._ordered, _keyed(rate))
        if self._most is not None and len(self._recent) > self._most:
            oldest = self._recent.popleft()
            if oldest.numerator > 0:
                del self._ordered[bisect_left(self._ordered, _keyed(oldest))]

    @property
    def count(self) -> int:
        """Return how many rates count."""
        return len(self._ordered)

    @property
    def median(self) -> Fraction:
        """Return the median of the rates that count; there has to be one."""
        known, middle = self._ordered, self.count // 2
        return known[middle][1] if self.count % 2 else (known[middle - 1][1] + known[middle][1]) / 2


def unlikely(
    rate: Fraction, usual: Usual | Iterable[Fraction], factor: int = FACTOR, minimum: int = MINIMUM
) -> UnlikelyVerdict | None:
    """Return a verdict when a rate is more than so many times the median, or less than that part of it.

    Args:
        rate: amount per area.
        usual: earlier amounts per area in the same unit; those of zero say nothing and are left out.
        factor: how many times is far, dimensionless.
        minimum: fewer earlier rates than this tell nothing.

    Returns:
        None when the rate is within `factor` times the median both ways (exactly that many times is within), when there
        is too little history, or when the rate is zero.
    """
    known = usual if isinstance(usual, Usual) else Usual(usual)
    if rate <= 0 or not known.count or known.count < minimum:
        return None
    median = known.median
    top, bottom = rate.numerator * median.denominator, rate.denominator * median.numerator
    if bottom <= top * factor and top <= bottom * factor:
        return None
    return UnlikelyVerdict(rate, median, rate / median, known.count)
