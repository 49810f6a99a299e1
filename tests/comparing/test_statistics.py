"""Medians, intervals and tests against published values."""

from __future__ import annotations

from fractions import Fraction
from itertools import combinations, product
from statistics import quantiles
from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import bootstrap, wilcoxon

from records.services.comparing.statistics import (
    DRAWN,
    EXACT,
    NORMAL,
    Test,
    differ,
    differ_between,
    differ_in_pairs,
    held_together,
    interval_between,
    lower_share,
    median,
    median_between,
    median_interval,
    p_text,
    quartiles,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

Test.__test__ = False  # type: ignore[attr-defined]

# Table A.7, Confidence Intervals for the Population Median, as printed in a textbook of statistics (an excerpt): number
# of values, ranks of the bounds, confidence in per cent. Of each number, the narrowest with at least 95 %, and
# for fewer than six the widest.
RANKS = [
    (2, 1, 2, "50.0"), (3, 1, 3, "75.0"), (4, 1, 4, "87.5"), (5, 1, 5, "93.8"), (6, 1, 6, "96.9"),
    (7, 1, 7, "98.4"), (8, 1, 8, "99.2"), (9, 2, 8, "96.1"), (10, 2, 9, "97.9"), (11, 2, 10, "98.8"),
    (12, 3, 10, "96.1"), (13, 3, 11, "97.8"), (14, 3, 12, "98.7"), (15, 4, 12, "96.5"), (16, 4, 13, "97.9"),
    (17, 5, 13, "95.1"), (18, 5, 14, "96.9"), (19, 5, 15, "98.1"), (20, 6, 15, "95.9"),
]  # fmt: skip


def fractions(*values: str | float) -> list[Fraction]:
    """Return numbers as printed."""
    return [Fraction(str(value)) for value in values]


@pytest.mark.parametrize(("count", "low", "high", "level"), RANKS)
def test_the_interval_of_a_median_by_ranks(count: int, low: int, high: int, level: str) -> None:
    values = [Fraction(rank, 3) for rank in range(1, count + 1)]
    found = median_interval(values[::-1])
    assert found is not None
    assert (found.low, found.high) == (Fraction(low, 3), Fraction(high, 3))
    assert abs(found.level * 100 - Fraction(level)) <= Fraction("0.0501")  # the table rounds half up
    assert found.is_enough == (count >= 6)


def test_one_value_has_no_interval() -> None:
    assert median_interval(fractions(80)) is None
    assert median_interval([]) is None


def test_never_is_longer_than_any_number_of_days() -> None:
    found = median_interval([Fraction(5), None, Fraction(9)])
    assert found is not None
    assert found.low == 5
    assert found.high is None
    assert median([Fraction(5), None, Fraction(9)]) == 9
    assert median([Fraction(5), None]) is None
    assert median([]) is None


def test_a_median_is_told_only_where_open_values_do_not_change_it() -> None:
    """Of 5, 6, 7 and two that are greater than 9 and 10 the middle one is 7; two greater than 6 leave it open."""
    assert median_between(fractions(5, 6, 7), fractions(9, 10)) == tuple(fractions(7, 7))
    assert median_between(fractions(5, 6, 7), fractions(6, 6)) == tuple(fractions(6, 7))
    assert median_between([Fraction(5), None, None], fractions(9)) == (None, None)
    within = interval_between(fractions(5, 6, 7), fractions(9, 10))
    assert within is not None
    assert within.low == 5
    assert within.high is None
    assert interval_between([], fractions(9)) is None


# Permeability constants of the human chorioamnion at term and at 12 to 26 weeks, Hollander and Wolfe 1973, pages 69 ff.
# (data as reprinted in public teaching material): W = 35, p one-sided 0.1272, the distribution being symmetric twice
# that on two sides.
TERM = fractions(0.80, 0.83, 1.89, 1.04, 1.45, 1.38, 1.91, 1.64, 0.73, 1.46)
EARLY = fractions(1.15, 0.88, 0.90, 0.74, 1.21)


def test_mann_whitney_of_a_textbook() -> None:
    found = differ(TERM, EARLY)
    assert found is not None
    assert found.way == EXACT
    assert abs(found.p - 2 * Fraction("0.1272")) < Fraction("0.0002")
    assert found.least == Fraction(2, 3003)
    assert not found.is_told


def by_hand(first: Sequence[Fraction | None], second: Sequence[Fraction | None]) -> Fraction:
    """Return twice the smaller share of all ways to deal the values out whose U is as small, or as great."""
    every = [Fraction(10**9) if value is None else value for value in (*first, *second)]
    size = len(first)

    def wins(places: tuple[int, ...]) -> Fraction:
        rest = [place for place in range(len(every)) if place not in places]
        return sum(
            (Fraction(every[a] > every[b]) + Fraction(every[a] == every[b], 2) for a, b in product(places, rest)),
            Fraction(0),
        )

    found = wins(tuple(range(size)))
    ways = [wins(places) for places in combinations(range(len(every)), size)]
    tail = min(sum(one <= found for one in ways), sum(one >= found for one in ways))
    return min(Fraction(1), Fraction(2 * tail, len(ways)))


DAYS = st.lists(st.none() | st.integers(1, 12).map(Fraction), min_size=1, max_size=4)


@settings(max_examples=25, deadline=None)
@given(first=DAYS, second=DAYS)
def test_mann_whitney_is_exact_with_ties_and_with_never(
    first: list[Fraction | None], second: list[Fraction | None]
) -> None:
    found, back = differ(first, second), differ(second, first)
    assert found is not None
    assert back is not None
    assert found.way == EXACT
    assert abs(found.p - by_hand(first, second)) < Fraction(1, 10**5)
    assert found.p == back.p
    assert found.p >= found.least - Fraction(1, 10**6)


def test_the_lower_share_is_u_over_the_pairs() -> None:
    """W = 35 of Hollander and Wolfe's example counts the pairs in which the first is the greater."""
    assert 1 - lower_share(TERM, EARLY) == Fraction(35, 50)
    assert lower_share([None, Fraction(5)], [None]) == Fraction(3, 4)


def test_the_smallest_samples_that_can_tell() -> None:
    """Three and three cannot: the critical values of U begin at four and four (two-sided, 5 %)."""
    three = differ(fractions(1, 2, 3), fractions(4, 5, 6))
    four = differ(fractions(1, 2, 3, 4), fractions(5, 6, 7, 8))
    assert three is not None
    assert four is not None
    assert (three.p, three.could_tell, three.is_told) == (Fraction("0.1"), False, False)
    assert (four.could_tell, four.is_told) == (True, True)
    assert abs(four.p - Fraction(2, 70)) < Fraction(1, 10**5)


def test_open_values_tell_a_difference_only_on_one_side() -> None:
    """Four days below 5 against four that had not come by then: they differ whatever those become."""
    first = (fractions(1, 2, 3, 4), ())
    told = differ_between(first, ([], fractions(5, 6, 7, 8)))
    assert told is not None
    assert told.is_told
    assert told == differ_between(([], fractions(5, 6, 7, 8)), first)
    either = differ_between(first, ([], fractions("0.1", "0.2", "0.3", "0.4")))
    assert either is not None
    assert either.p == 1
    assert differ_between(first, ([], [])) is None
    assert differ_between(first, (fractions(5, 6, 7, 8), ())) == differ(first[0], fractions(5, 6, 7, 8))


def test_large_samples_use_the_lot_or_the_normal_approximation() -> None:
    many = [Fraction(value % 7) for value in range(12)]
    assert (found := differ(many, [value + 3 for value in many])) is not None
    assert found.way == NORMAL
    few = [Fraction(value % 7) for value in range(9)]
    assert (drawn := differ(few, [value + 3 for value in few])) is not None
    assert drawn.way == DRAWN
    assert drawn == differ(few, [value + 3 for value in few])
    assert differ(few, []) is None
    assert (same := differ(fractions(80, 80), fractions(80, 80))) is not None
    assert same.p == 1


# Heights of Darwin's crossed less self-fertilised maize in eighths of an inch; R. A. Fisher 1935, The Design of
# Experiments, section 21: in 863 of 32,768 ways the sum is 314 or more, one-sided.
MAIZE = (49, -67, 8, 16, 6, 23, 28, 41, 14, 29, 56, 24, 75, 60, -48)


def test_fishers_pairs() -> None:
    assert sum(MAIZE) == 314
    found = differ_in_pairs([Fraction(value, 8) for value in MAIZE])
    assert found is not None
    assert found.way == EXACT
    assert abs(found.p - Fraction(2 * 863, 32768)) < Fraction(1, 10**5)


def test_pairs_agree_with_signed_ranks_where_differences_are_ranks() -> None:
    """Where the differences are the ranks themselves, Fisher's test is Wilcoxon's."""
    signs = (1, 1, -1, 1, 1, 1)
    found = differ_in_pairs([Fraction(sign * rank) for rank, sign in enumerate(signs, 1)])
    assert found is not None
    other = wilcoxon([sign * rank for rank, sign in enumerate(signs, 1)], method="exact").pvalue
    assert float(found.p) == pytest.approx(float(other), abs=1e-5)
    assert differ_in_pairs([]) is None
    assert (lone := differ_in_pairs(fractions(20))) is not None
    assert lone.p == 1
    assert (none := differ_in_pairs(fractions(0, 0))) is not None
    assert none.p == 1


def test_holm() -> None:
    """Holm's steps: 0.01 x 4, 0.02 x 3, then never less than the one before."""
    tests = [Test(Fraction(p), Fraction(0), EXACT) for p in ("0.03", "0.01", "0.04", "0.02")]
    assert [one.p for one in held_together(tests)] == fractions("0.06", "0.04", "0.06", "0.06")


@given(st.lists(st.fractions(0, 100, max_denominator=7), min_size=2, max_size=12))
def test_quartiles_are_those_of_the_standard_library(values: list[Fraction]) -> None:
    first, _, third = quantiles(values, n=4, method="inclusive")
    assert quartiles(values) == (first, third)


def test_the_interval_lies_near_that_of_a_bootstrap() -> None:
    """A reference: the percentile bootstrap of the median of a skewed sample is not far off."""
    values = [Fraction(value) for value in (40, 55, 60, 62, 70, 71, 75, 80, 82, 85, 86, 88, 90, 92, 95)]
    found = median_interval(values)
    assert found is not None
    assert found.low is not None
    assert found.high is not None
    other = bootstrap(
        ([float(value) for value in values],), np.median, n_resamples=2000, method="percentile", rng=1
    ).confidence_interval
    assert abs(float(found.low) - other.low) <= 10
    assert abs(float(found.high) - other.high) <= 10


def test_probabilities_in_print() -> None:
    assert [p_text(Fraction(p)) for p in ("0.0004", "0.0041", "0.023", "0.5")] == [
        "p<0.001", "p=0.004", "p=0.02", "p=0.50",
    ]  # fmt: skip
