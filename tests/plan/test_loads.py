"""Spray, loads and product per load: nothing is lost between the whole and its parts."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from records.domain.loads import area_of, dose, in_load, loads_of, per_spray, split, spray_for, strength
from records.domain.quantities import Form, Per, Quantity, Rate, parse_area, parse_output, parse_rate, parse_volume

positive = st.fractions(min_value=Fraction(1, 100), max_value=10_000, max_denominator=1_000)
OUTPUT = parse_output("2 gal/1000 sq ft")


def test_the_arithmetic_of_a_skid_sprayer() -> None:
    """23,300 sq ft at 2 gal/1,000: 46.6 gal, two full loads of 20 gal and one of 6.6 (by hand)."""
    spray = spray_for(parse_area("23,300 sq ft"), OUTPUT)
    assert spray.value == Fraction("46.6")
    loads = split(spray, parse_volume("20 gal"))
    assert (loads.full, loads.count, loads.rest and loads.rest.value) == (2, 3, Fraction("6.6"))
    assert [str(size) for size in loads.sizes()] == ["20 gal", "6.6 gal"]
    assert split(parse_volume("40 gal"), parse_volume("20 gal")).rest is None
    assert split(spray, None).count == 1
    rate = parse_rate("1.1 fl oz/1000 sq ft", Form.LIQUID)
    made = in_load(rate, loads.size, OUTPUT)
    assert made is not None
    assert made.base == 11


def test_doses_of_a_hand_can() -> None:
    """1.1 fl oz/1,000 sq ft at 2 gal/1,000 is 0.55 fl oz/gal, 0.4296875 % of the spray (by hand)."""
    rate = parse_rate("1.1 fl oz/1000 sq ft", Form.LIQUID)
    per_gallon = dose(rate, OUTPUT)
    assert per_gallon is not None
    assert str(per_gallon) == "0.55 fl oz/gal"
    assert strength(rate, OUTPUT) == Fraction("0.4296875")
    half = dose(parse_rate("0.25 % v/v", Form.LIQUID), None)
    assert half is not None
    assert str(half) == "0.32 fl oz/gal"
    assert dose(rate, None) is None
    assert per_spray(rate, None) is None
    assert in_load(rate, parse_volume("1 gal"), None) is None
    assert strength(parse_rate("0.9 g/gal", Form.DRY), None) is None


@pytest.mark.parametrize("tank", [Quantity(Fraction(0), "gal"), Quantity(Fraction(5), "lb")])
def test_a_tank_that_cannot_hold_it(tank: Quantity) -> None:
    with pytest.raises(ValueError, match="holds no part"):
        split(parse_volume("40 gal"), tank)
    with pytest.raises(ValueError, match="covers no area"):
        area_of(parse_volume("40 gal"), Rate(Fraction(0), "gal", Per.AREA, "acre"))


@given(positive, positive)
def test_loads_add_up(whole: Fraction, tank: Fraction) -> None:
    loads = split(Quantity(whole, "gal"), Quantity(tank, "gal"))
    rest = Fraction(0) if loads.rest is None else loads.rest.value
    assert loads.full * tank + rest == whole
    assert rest < tank
    assert loads.count >= 1


@given(st.lists(positive, min_size=1, max_size=30), positive, positive)
def test_product_of_the_loads_is_that_of_the_area(areas: list[Fraction], output: Fraction, rate: Fraction) -> None:
    """What goes into all loads together is rate x area to the last digit, however it is divided."""
    put = Rate(output, "gal", Per.AREA, "1000 sq ft")
    per_area = Rate(rate, "fl oz", Per.AREA, "1000 sq ft")
    sprays = [spray_for(Quantity(area, "sq ft"), put) for area in areas]
    whole = Quantity(sum((spray.value for spray in sprays), Fraction(0)), "gal")
    loads = split(whole, Quantity(Fraction(20), "gal"))
    made = sum(
        (
            amount.base * times
            for size, times in zip(loads.sizes(), (loads.full, 1) if loads.full else (1,), strict=False)
            if (amount := in_load(per_area, size, put)) is not None
        ),
        Fraction(0),
    )
    assert made == per_area.amount(Quantity(sum(areas, Fraction(0)), "sq ft")).base


@given(st.lists(positive, min_size=1, max_size=30), positive)
def test_every_stop_draws_on_loads_in_order(parts: list[Fraction], size: Fraction) -> None:
    ends = [sum(parts[: n + 1], Fraction(0)) for n in range(len(parts))]
    drawn = loads_of([end - part for end, part in zip(ends, parts, strict=True)], ends, size)
    for (first, last), part, end in zip(drawn, parts, ends, strict=True):
        assert (first - 1) * size <= end - part < first * size
        assert (last - 1) * size < end <= last * size
    assert [first for first, _ in drawn] == sorted(first for first, _ in drawn)
