"""Sums over a zone: the certain one is never more than what some ground got, the possible one never less."""

from __future__ import annotations

from datetime import date, timedelta
from fractions import Fraction
from functools import partial

import pytest
from hypothesis import given
from hypothesis import strategies as st

from records.domain.ceilings import Load, Sum, add_months, must_overlap, windows
from records.domain.product import Window

DAY = date(2026, 5, 14)
CELLS = 12  # the zone, in squares of 1 sq ft
SPREADS = st.lists(
    st.tuples(st.integers(1, 40), st.integers(1, CELLS), st.integers(0, CELLS - 1), st.booleans()),
    min_size=1,
    max_size=5,
)
DAYS = st.dates(date(2024, 1, 1), date(2030, 12, 31))


def total(spreads: list[tuple[int, int, int, bool]]) -> Sum:
    """Return the sum of applications given as amount, squares, first square, and whether their area is exact."""
    loads = [
        Load(str(n), DAY, Fraction(amount), partial(Fraction, amount), Fraction(squares), Fraction(squares), exact)
        for n, (amount, squares, _, exact) in enumerate(spreads)
    ]
    return Sum(tuple(loads), Fraction(CELLS))


@given(SPREADS)
def test_sums_bound_what_the_ground_got(spreads: list[tuple[int, int, int, bool]]) -> None:
    """Wherever the spots were, the thickest square got at least the certain sum and at most the stacked one."""
    ground = [Fraction(0)] * CELLS
    for amount, squares, first, _ in spreads:
        for square in range(squares):
            ground[(first + square) % CELLS] += Fraction(amount, squares)
    result = total(spreads)
    assert result.sure is not None
    assert result.sure <= max(ground) <= result.stacked
    for limit in (max(ground), result.stacked):
        assert not result.is_certainly_over(limit)
    assert not result.is_possibly_over(result.stacked)


@given(SPREADS, st.integers(1, 4))
def test_an_overlap_that_must_be_is_there(spreads: list[tuple[int, int, int, bool]], times: int) -> None:
    """Where the treated areas say that ground was treated more than so often, every placing has such ground."""
    count = [0] * CELLS
    for _, squares, first, _ in spreads:
        for square in range(squares):
            count[(first + square) % CELLS] += 1
    if must_overlap([Fraction(squares) for _, squares, _, _ in spreads], times, Fraction(CELLS)):
        assert max(count) > times
    assert not must_overlap([None], times, Fraction(CELLS))
    assert not must_overlap([Fraction(CELLS * 9)], times, None)


def test_a_zone_without_area_is_never_certain() -> None:
    """Nothing is certain on ground that nobody measured; what is possible is still told."""
    load = Load("", DAY, Fraction(9), partial(Fraction, 9), Fraction(1), Fraction(1), is_exact=True)
    result = Sum((load,), None)
    assert result.sure is None
    assert not result.is_certainly_over(Fraction(1))
    assert result.is_possibly_over(Fraction(1))


@given(DAYS, st.lists(DAYS, max_size=6), st.sampled_from([(12, "months"), (6, "months"), (365, "days"), (30, "days")]))
def test_rolling_windows(day: date, others: list[date], length: tuple[int, str]) -> None:
    """Each window holds the day, ends on an application and is as long as the label says; the first ends on the day."""
    number, kind = length
    found = windows(Window(kind, number), day, others)
    assert found[0][1] == day
    for first, last in found:
        assert first <= day <= last
        assert last in {day, *others}
        assert first == (add_months(last, -number) if kind == "months" else last - timedelta(number)) + timedelta(1)


@given(DAYS, DAYS)
def test_a_rolling_year_is_the_same_from_both_ends(day: date, other: date) -> None:
    """Whichever of two visits is entered last, they share a window or they do not."""
    window = Window("months", 12)

    def share(entry: date, past: date) -> bool:
        return any(first <= past <= last for first, last in windows(window, entry, [past]))

    assert share(day, other) == share(other, day)


@pytest.mark.parametrize(
    ("day", "span"),
    [
        (date(2026, 10, 1), (date(2026, 10, 1), date(2027, 3, 31))),
        (date(2027, 3, 31), (date(2026, 10, 1), date(2027, 3, 31))),
        (date(2027, 4, 1), None),
        (date(2026, 9, 30), None),
    ],
)
def test_a_season_across_new_year(day: date, span: tuple[date, date] | None) -> None:
    """Both ends count; between two seasons nothing is counted."""
    assert windows(Window("season", 0, "10-01", "03-31"), day, []) == ([span] if span else [])
