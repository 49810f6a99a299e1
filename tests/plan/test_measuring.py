"""The nearest practical mark: its error is told, it never passes the label's most, and no weight goes into a cup."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from records.domain.measuring import BY_ID, FAIR, VESSELS, WrongVesselError, exact_words, mark_in, marks, mixed
from records.domain.quantities import Form, Quantity, parse_amount
from records.units import Kind

VOLUMES = [vessel.id for vessel in VESSELS if vessel.kind is Kind.VOLUME]
SCALES = [vessel.id for vessel in VESSELS if vessel.kind is Kind.WEIGHT]
amounts = st.fractions(min_value=Fraction(1, 1000), max_value=10_000, max_denominator=10_000)


def liquid(text: str) -> Quantity:
    return parse_amount(text, Form.LIQUID)


def dry(text: str) -> Quantity:
    return parse_amount(text, Form.DRY)


@pytest.mark.parametrize(
    ("amount", "words"),
    [
        ("4.62 fl oz", ["137 mL in a cylinder marked every 1 mL (0.3% over)"]),
        ("3.65 fl oz", ["7 tbsp + 1 tsp with measuring spoons (0.5% over)"]),
        ("0.5 fl oz", ["1 tbsp with measuring spoons (exact)", "14.8 mL in a syringe marked every 0.2 mL (0.1% over)"]),
        ("16 fl oz", ["16 fl oz in a cup marked every 1/2 fl oz (exact)"]),
        ("150 fl oz", ["1 gal + 22 fl oz by the gallon, the rest in a jug (exact)"]),
        ("0.01 fl oz", []),
    ],
)
def test_a_volume_is_told_in_customary_and_in_metric_marks(amount: str, words: list[str]) -> None:
    """Known marks, by hand: 3.65 fl oz is 21.9 tsp, so 22 tsp = 7 tbsp and 1 tsp."""
    found = [str(mark) for mark in marks(liquid(amount))]
    assert found[: len(words)] == words if words else len(found) <= 1


def test_a_weight_is_told_on_a_scale_with_three_decimals() -> None:
    """30.25 g; a dry product has no cup."""
    found = marks(dry("30.25 g"))
    assert [str(mark) for mark in found] == ["30.250 g on a scale that shows 0.01 g (exact)"]
    assert [mark.words for mark in marks(dry("46.5 lb"))] == ["46.5 lb"]
    assert exact_words(dry("0.0625 lb")) == "28.350 g (0.0625 lb)"
    assert exact_words(dry("1.7 g")) == "1.700 g"
    assert exact_words(dry("46.5 lb")) == "46.5 lb"
    assert exact_words(liquid("4.62 fl oz")) == "4.62 fl oz"


@pytest.mark.parametrize("vessel", VOLUMES)
def test_a_weight_in_a_cup_is_refused(vessel: str) -> None:
    with pytest.raises(WrongVesselError, match="a weight is measured on a scale"):
        mark_in(dry("2 oz wt"), BY_ID[vessel])


@pytest.mark.parametrize("vessel", SCALES)
def test_a_volume_on_a_scale_is_refused(vessel: str) -> None:
    with pytest.raises(WrongVesselError, match="a volume is measured in a vessel"):
        mark_in(liquid("2 fl oz"), BY_ID[vessel])


def test_the_vessel_at_hand_is_used() -> None:
    """Only spoons there: the mark is a spoon's however far it is off."""
    (mark,) = marks(liquid("1.3 fl oz"), at_hand=["spoons"])
    assert mark.words == "2 tbsp + 1 3/4 tsp"
    assert marks(liquid("1.3 fl oz"), at_hand=["scale"]) == ()
    (cup,) = marks(liquid("3.63 fl oz"), at_hand=["fl oz"])
    assert (cup.words, cup.error_words) == ("3 1/2 fl oz", "3.6% under")


def test_the_mark_never_passes_what_the_label_allows() -> None:
    """6.4 fl oz is nearest to 6 1/2; where 6.4 is the most, it is 6."""
    amount = liquid("6.4 fl oz")
    assert mark_in(amount, BY_ID["fl oz"]) is not None
    mark = mark_in(amount, BY_ID["fl oz"], amount.base)
    assert mark is not None
    assert mark.words == "6 fl oz"


@given(amounts, st.sampled_from(VOLUMES), st.fractions(min_value=0, max_value=2, max_denominator=50))
def test_every_mark_is_near_and_within(value: Fraction, vessel: str, share: Fraction) -> None:
    """Within half a step of the amount where nothing limits it; never above the most; the error is the mark's."""
    amount = Quantity(value, "fl oz")
    free = mark_in(amount, BY_ID[vessel])
    if free is not None:
        assert abs(free.base - amount.base) * 2 <= BY_ID[vessel].size
        assert free.base == amount.base * (1 + free.error)
    most = amount.base * share
    limited = mark_in(amount, BY_ID[vessel], most)
    assert limited is None or limited.base <= most


@given(amounts, st.sampled_from(["fl oz", "mL", "g", "oz wt", "lb"]))
def test_hints_are_fair_or_alone(value: Fraction, unit: str) -> None:
    """A hint that is far off is told only where nothing does better; its kind is the amount's."""
    amount = Quantity(value, unit)
    found = marks(amount, amount.base)
    assert all(mark.vessel.kind is amount.kind for mark in found)
    assert all(mark.base <= amount.base for mark in found)
    assert len(found) <= 1 or all(abs(mark.error) <= FAIR for mark in found)


@pytest.mark.parametrize(
    ("value", "words"), [("5/2", "2 1/2"), ("3", "3"), ("1/4", "1/4"), ("0", "0"), ("4801/4", "1,200 1/4")]
)
def test_mixed_numbers(value: str, words: str) -> None:
    assert mixed(Fraction(value)) == words
