"""The sum that has to close: bought - used - disposed - in mixes - on hand = gap, exactly and as shown."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from records.domain.quantities import decimal_text
from records.domain.stock import Balance, FirstInFirstOut, Layer, average, kept, total

amounts = st.fractions(min_value=0, max_value=10_000, max_denominator=128)
prices = st.fractions(min_value=0, max_value=500, max_denominator=1000)
parts = st.tuples(amounts, amounts, amounts, amounts)
Parts = tuple[Fraction, Fraction, Fraction, Fraction]


@given(parts, st.none() | st.tuples(amounts, amounts))
def test_the_account_closes_exactly(found: Parts, counted: tuple[Fraction, Fraction] | None) -> None:
    """Whatever came and went; where nothing was counted, the books say what is there and nothing is missing."""
    came, used, disposed, passed = found
    one = kept(came, used, disposed, passed, counted)
    assert came - used - disposed - passed - one.on_hand == one.gap
    if counted is None:
        assert one.gap == 0


@given(parts, amounts, st.integers(0, 9), st.sampled_from(["gal", "fl oz", "mL", "L", "qt"]))
def test_what_is_shown_closes_to_its_last_digit(found: Parts, on_hand: Fraction, places: int, unit: str) -> None:
    """The texts on a screen add up as the exact parts do, in whatever unit and with however many decimals."""
    one = Balance(*found, on_hand).rounded(unit, places)
    shown = [Fraction(decimal_text(part, places)) for part in (one.came, one.used, one.disposed, one.passed)]
    left, gap = Fraction(decimal_text(one.on_hand, places)), Fraction(decimal_text(one.gap, places))
    assert shown[0] - sum(shown[1:]) - left == gap


@given(st.lists(st.tuples(parts, amounts), max_size=8))
def test_the_gap_of_a_sum_is_the_sum_of_the_gaps(found: list[tuple[Parts, Fraction]]) -> None:
    every = [Balance(*one, on_hand) for one, on_hand in found]
    assert total(every).gap == sum((one.gap for one in every), Fraction(0))


@given(st.lists(st.tuples(amounts, prices), min_size=1, max_size=6), st.lists(amounts, max_size=8))
def test_first_in_first_out_costs_what_was_paid(bought: list[tuple[Fraction, Fraction]], used: list[Fraction]) -> None:
    """However it is used up in parts: the sum costs the same, and all of it costs what all of it was bought for."""
    layers = [Layer(amount, price) for amount, price in bought if amount]
    if not layers:
        return
    first, again = FirstInFirstOut(layers), FirstInFirstOut(layers)
    assert sum((first.take(amount) for amount in used), Fraction(0)) == again.take(sum(used, Fraction(0)))
    whole = FirstInFirstOut(layers)
    paid = sum((layer.amount * layer.price for layer in layers), Fraction(0))
    assert whole.take(sum((layer.amount for layer in layers), Fraction(0))) == paid
    assert whole.take(Fraction(2)) == 2 * layers[-1].price  # more than was bought costs what the last pack did


def test_the_average_lies_between_the_prices() -> None:
    """3 at 10 and 1 at 20 are 50 for 4; of nothing there is no price."""
    assert average([Layer(Fraction(3), Fraction(10)), Layer(Fraction(1), Fraction(20))]) == Fraction(25, 2)
    assert average([]) is None
    with pytest.raises(ValueError, match="nothing was bought"):
        FirstInFirstOut([]).take(Fraction(1))
