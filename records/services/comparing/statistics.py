"""Medians, their honest intervals and exact tests, for samples as small as a lawn business has.

Nothing is assumed about how ratings spread. `None` in a sample stands for "never": longer than any number of days. The
tests come from `scipy`, loaded only here; their results are probabilities, given back as fractions rounded to six
decimals. Amounts and ratings themselves never become binary floats on the way out.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import comb, inf, lcm
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

WANTED = Fraction(95, 100)  # confidence asked for
LEVEL = Fraction(5, 100)  # below it, a difference is told
MOST_ORDERS = 20_000  # rearrangements that are tried one by one; of more, as many are drawn by lot
MANY = 10  # from so many sites in each sample on, the normal approximation does
SEED = 20_260_301  # of the lot: the same sample gets the same answer
EXACT, DRAWN, NORMAL = "exact", "drawn by lot", "normal approximation"
_PLACES = 10**6


@dataclass(frozen=True, slots=True)
class Interval:
    """Where the median of all such sites may lie; bounds are values of the sample, None for "never"."""

    low: Fraction | None
    high: Fraction | None
    level: Fraction  # the confidence it really has

    @property
    def is_enough(self) -> bool:
        """Tell whether it has the confidence that is commonly asked for."""
        return self.level >= WANTED


@dataclass(frozen=True, slots=True)
class Test:
    """How likely such a difference is where there is none."""

    p: Fraction
    least: Fraction  # the smallest p that samples of these sizes can give
    way: str  # EXACT, DRAWN or NORMAL

    @property
    def is_told(self) -> bool:
        """Tell whether it speaks of a difference."""
        return self.p <= LEVEL

    @property
    def could_tell(self) -> bool:
        """Tell whether samples of these sizes could ever show a difference."""
        return self.least <= LEVEL


def median(values: Sequence[Fraction | None]) -> Fraction | None:
    """Return the median; None where it is "never", or where there are no values."""
    if not values:
        return None
    ordered = sorted(values, key=_rank)
    low, high = ordered[(len(ordered) - 1) // 2], ordered[len(ordered) // 2]
    return None if low is None or high is None else (low + high) / 2


def _rank(value: Fraction | None) -> tuple[bool, Fraction]:
    return value is None, value or Fraction(0)


def quartiles(values: Sequence[Fraction]) -> tuple[Fraction, Fraction]:
    """Return the first and the third quartile, on straight lines between the values (type 7 of Hyndman and Fan 1996).

    Args:
        values: at least two.
    """
    ordered = sorted(values)
    found = []
    for quarter in (1, 3):
        whole, rest = divmod((len(ordered) - 1) * quarter, 4)
        low = ordered[whole]
        high = ordered[min(whole + 1, len(ordered) - 1)]
        found.append(low + (high - low) * Fraction(rest, 4))
    return found[0], found[1]


def median_interval(values: Sequence[Fraction | None]) -> Interval | None:
    """Return the interval of the median by order statistics, which asks nothing of the distribution.

    From six values on, the narrowest symmetric one with at least 95 % (scipy, `quantile_test`). Fewer cannot reach
    95 %: the widest there is goes from the least to the greatest and has 1 - 2 x (1/2)^n. One value has none.
    """
    count = len(values)
    if count < 2:
        return None
    ordered = sorted(values, key=_rank)
    low, high = 1, count
    if 1 - Fraction(2, 2**count) >= WANTED:
        from scipy.stats import quantile_test

        # The ranks in place of the values: bounds come back as ranks, and the values stay exact
        bounds: Any = quantile_test(range(1, count + 1), p=0.5).confidence_interval(float(WANTED))
        low, high = round(float(bounds.low)), round(float(bounds.high))
    level = Fraction(sum(comb(count, below) for below in range(low, high)), 2**count)
    return Interval(ordered[low - 1], ordered[high - 1], level)


def median_between(
    values: Sequence[Fraction | None], open_at: Sequence[Fraction]
) -> tuple[Fraction | None, Fraction | None]:
    """Return between which two values the median lies when some values are only known to be greater than a bound.

    Nothing is assumed of those: each may lie right behind its bound, or never come.

    Args:
        values: that are known; None: "never".
        open_at: bounds of the others.
    """
    return median([*values, *open_at]), median([*values, *[None] * len(open_at)])


def interval_between(values: Sequence[Fraction | None], open_at: Sequence[Fraction]) -> Interval | None:
    """Return the interval of the median, wide enough for whatever the open values become.

    Args:
        values: that are known; None: "never".
        open_at: bounds behind which the others lie.
    """
    soon = median_interval([*values, *open_at])
    late = median_interval([*values, *[None] * len(open_at)])
    return None if soon is None or late is None else Interval(soon.low, late.high, soon.level)


def lower_share(first: Sequence[Fraction | None], second: Sequence[Fraction | None]) -> Fraction:
    """Return in what share of all pairs the first sample has the lower value, ties as halves: U over the pairs.

    Args:
        first: at least one value.
        second: likewise.
    """
    lower = Fraction(0)
    for one in first:
        for other in second:
            if _rank(one) == _rank(other):
                lower += Fraction(1, 2)
            elif _rank(one) < _rank(other):
                lower += 1
    return lower / (len(first) * len(second))


def differ(first: Sequence[Fraction | None], second: Sequence[Fraction | None]) -> Test | None:
    """Return the two-sided test of Mann and Whitney of two samples of separate sites; None where one is empty.

    Exact without ties; with ties, over every way to deal the values out; where there are too many ways, over some
    drawn by lot, and by the normal approximation with both samples large.
    """
    if not first or not second:
        return None
    ways = comb(len(first) + len(second), len(first))
    least = min(Fraction(1), Fraction(2, ways))
    numbers = [[inf if value is None else float(value) for value in sample] for sample in (first, second)]
    every = numbers[0] + numbers[1]
    if len(set(every)) == 1:
        return Test(Fraction(1), least, EXACT)
    has_ties = len(set(every)) < len(every)
    if min(map(len, numbers)) == 1:
        return Test(_of_one(*sorted(numbers, key=len)), least, EXACT)
    from scipy.stats import PermutationMethod, mannwhitneyu

    method: Any
    if min(map(len, numbers)) >= MANY and (has_ties or len(every) > 4 * MANY):
        method, way = "asymptotic", NORMAL
    elif not has_ties:
        method, way = "exact", EXACT
    else:
        method = PermutationMethod(n_resamples=MOST_ORDERS, rng=_lot())
        way = EXACT if ways <= MOST_ORDERS else DRAWN
    return Test(_rounded(mannwhitneyu(numbers[0], numbers[1], method=method).pvalue), least, way)


def differ_between(
    first: tuple[Sequence[Fraction | None], Sequence[Fraction]],
    second: tuple[Sequence[Fraction | None], Sequence[Fraction]],
) -> Test | None:
    """Return the test of two samples of which some values are only known to be greater than a bound.

    It is made with the open ones of the first as early and those of the second as late as can be, and the other way
    round. Where the two point to different sides nothing can be told; else the greater p counts.

    Args:
        first: known values, and the bounds of the open ones.
        second: likewise.
    """
    found = []
    for is_soon in (True, False):
        one, other = _filled(first, is_soon=is_soon), _filled(second, is_soon=not is_soon)
        test = differ(one, other)
        if test is None:
            return None
        found.append((test, lower_share(one, other) - Fraction(1, 2)))
    (test, side), (last, far) = found
    if first[1] or second[1]:
        return max(test, last, key=lambda each: each.p) if side * far > 0 else Test(Fraction(1), test.least, test.way)
    return test


def _filled(sample: tuple[Sequence[Fraction | None], Sequence[Fraction]], *, is_soon: bool) -> list[Fraction | None]:
    known, open_at = sample
    return [*known, *(open_at if is_soon else [None] * len(open_at))]


def _of_one(alone: list[float], others: list[float]) -> Fraction:
    """Return p where one sample is a single value, which scipy does not rearrange: it may stand at any rank."""
    every = [*alone, *others]
    below, above = (sum(sign * one >= sign * alone[0] for one in every) for sign in (-1, 1))
    return min(Fraction(1), Fraction(2 * min(below, above), len(every)))


def differ_in_pairs(differences: Sequence[Fraction]) -> Test | None:
    """Return Fisher's test of paired differences, two-sided: each may as well have had the other sign.

    Source: R. A. Fisher 1935, The Design of Experiments, section 21.
    """
    if not differences:
        return None
    ways = 2 ** len(differences)
    least = min(Fraction(1), Fraction(2, ways))
    if len(differences) == 1 or not any(differences):
        return Test(Fraction(1), least, EXACT)
    from scipy.stats import permutation_test

    # Whole numbers: sums that are equal are then equal in binary, too
    bottom = lcm(*(one.denominator for one in differences))
    sample = [float(one * bottom) for one in differences]
    mean: Callable[..., Any] = _mean
    done = permutation_test(
        (sample,), mean, permutation_type="samples", vectorized=True, n_resamples=2 * MOST_ORDERS, rng=_lot()
    )
    return Test(_rounded(done.pvalue), least, EXACT if ways <= 2 * MOST_ORDERS else DRAWN)


def _mean(sample: Any, axis: int = -1) -> Any:  # noqa: ANN401 - an array of numpy, whose types scipy alone knows
    return sample.sum(axis=axis)


def _lot() -> Any:  # noqa: ANN401
    from numpy.random import default_rng

    return default_rng(SEED)


def _rounded(p: object) -> Fraction:
    return Fraction(round(float(str(p)) * _PLACES), _PLACES)


def held_together(tests: Sequence[Test]) -> list[Test]:
    """Return tests with their p raised for being several at once, by Holm's method.

    Source: S. Holm 1979, A Simple Sequentially Rejective Multiple Test Procedure, Scandinavian Journal of Statistics
    6, 65-70.
    """
    order = sorted(range(len(tests)), key=lambda place: tests[place].p)
    raised, least = list(tests), Fraction(0)
    for rank, place in enumerate(order):
        one = tests[place]
        least = max(least, min(Fraction(1), one.p * (len(tests) - rank)))
        raised[place] = Test(least, one.least, one.way)
    return raised


def p_text(p: Fraction) -> str:
    """Return a probability as people print it."""
    if p < Fraction(1, 1000):
        return "p<0.001"
    places = 3 if p < Fraction(1, 100) else 2
    return f"p={float(p):.{places}f}"
