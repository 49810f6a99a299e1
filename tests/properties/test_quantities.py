"""What holds for every amount, not only for the ones somebody thought of."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from records.domain.numerals import QuantityError
from records.domain.quantities import (
    Form,
    Per,
    Quantity,
    Rate,
    exceeds,
    format_number,
    parse_amount,
    parse_area,
    parse_output,
    parse_rate,
    parse_speed,
    parse_temperature,
    parse_volume,
)
from records.domain.weather import parse_direction, point_of
from records.units import ALIASES, UNITS, Kind, convert

if TYPE_CHECKING:
    from collections.abc import Callable


VOLUMES = [symbol for symbol, unit in UNITS.items() if unit.kind is Kind.VOLUME]
WEIGHTS = [symbol for symbol, unit in UNITS.items() if unit.kind is Kind.WEIGHT]
AREAS = [symbol for symbol, unit in UNITS.items() if unit.kind is Kind.AREA]
PER_AREA = [*AREAS, "100 sq ft"]
PER_SPRAY = [*VOLUMES, "100 gal", "100 L"]
FORM_OF = {Kind.VOLUME: Form.LIQUID, Kind.WEIGHT: Form.DRY}

places = st.integers(0, 6)
fractions = st.fractions(min_value=0, max_value=10**6, max_denominator=10**4)


@st.composite
def decimals(draw: st.DrawFn, *, least: int = 0, most: int = 10**9, deepest: int = 6) -> str:
    """A number as it is typed: with or without decimals, zeros at the end kept."""
    depth = draw(st.integers(0, deepest))
    digits = f"{draw(st.integers(least, most)):0{depth + 1}d}"
    return f"{digits[:-depth]}.{digits[-depth:]}" if depth else digits


@st.composite
def mixed(draw: st.DrawFn) -> str:
    """A whole number with a fraction as on a measuring cup."""
    bottom = draw(st.integers(2, 64))
    whole = draw(st.integers(0, 500))
    return f"{whole or ''} {draw(st.integers(1, bottom - 1))}/{bottom}".strip()


numbers = decimals() | mixed()


def half_of(number: str) -> Fraction:
    return Fraction(0) if "/" in number else Fraction(1, 2 * 10 ** len(number.partition(".")[2]))


def value_of(number: str) -> Fraction:
    return sum((Fraction(part) for part in number.split()), Fraction(0))


# Reading and writing ----------------------------------------------------------------------------------------------


@given(numbers, st.sampled_from(VOLUMES + WEIGHTS))
def test_amount_round_trip(number: str, unit: str) -> None:
    form = FORM_OF[UNITS[unit].kind]
    amount = parse_amount(f"{number} {unit}", form)
    assert amount == Quantity(value_of(number), unit, half_of(number), number)
    assert str(amount) == f"{number} {unit}"
    assert parse_amount(str(amount), form) == amount


@given(mixed() | decimals(deepest=2), st.sampled_from(AREAS))
def test_area_round_trip(number: str, unit: str) -> None:
    area = parse_area(f"{number} {unit}")
    assert area == Quantity(value_of(number), unit, half_of(number), number)
    assert parse_area(str(area)) == area


@given(fractions, st.sampled_from(AREAS))
def test_area_that_was_worked_out_is_read_again(value: Fraction, unit: str) -> None:
    assert parse_area(str(Quantity(value, unit))).value == Fraction(format_number(value))


@given(numbers, st.sampled_from(VOLUMES + WEIGHTS), st.sampled_from(PER_AREA + PER_SPRAY))
def test_rate_round_trip(number: str, unit: str, per_unit: str) -> None:
    form = FORM_OF[UNITS[unit].kind]
    rate = parse_rate(f"{number} {unit}/{per_unit}", form)
    per = Per.AREA if per_unit in PER_AREA else Per.SPRAY
    assert rate == Rate(value_of(number), unit, per, per_unit, half_of(number), number)
    assert parse_rate(str(rate), form) == rate
    assert parse_rate(rate.like(rate.base), form).base == Fraction(format_number(rate.value)) * rate.base / (
        rate.value or 1
    )


@given(numbers)
def test_per_cent_round_trip(number: str) -> None:
    rate = parse_rate(f"{number} % v/v", Form.LIQUID)
    assert rate.base == value_of(number) / 100
    assert parse_rate(str(rate), Form.LIQUID) == rate


@given(st.integers(1, 10**9), decimals(deepest=3))
def test_thousands_commas_change_nothing(whole: int, tail: str) -> None:
    decimal = tail.partition(".")[2]
    number = f"{whole}.{decimal}" if decimal else str(whole)
    grouped = f"{whole:,}.{decimal}" if decimal else f"{whole:,}"
    assert parse_amount(f"{grouped} mL", Form.LIQUID) == parse_amount(f"{number} mL", Form.LIQUID)


@given(st.integers(0, 999), st.text("0123456789", min_size=1, max_size=6))
def test_decimal_comma_is_never_read_as_something_else(whole: int, decimal: str) -> None:
    """Only three digits after a comma can be thousands, and only behind a number that does not begin with zero."""
    assume(len(decimal) != 3 or whole == 0)
    with pytest.raises(QuantityError):
        parse_area(f"{whole},{decimal} acre")


@given(st.sampled_from(sorted(ALIASES)), decimals())
def test_every_alias_means_its_unit(alias: str, number: str) -> None:
    unit = ALIASES[alias]
    readers: dict[Kind, Callable[[str], Quantity]] = {
        Kind.VOLUME: parse_volume,
        Kind.AREA: parse_area,
        Kind.SPEED: parse_speed,
        Kind.TEMPERATURE: parse_temperature,
        Kind.WEIGHT: lambda text: parse_amount(text, Form.DRY),
        Kind.OUNCE: lambda text: parse_amount(text, Form.UNKNOWN),
    }
    reader = readers.get(UNITS[unit].kind)
    assume(reader is not None and not (UNITS[unit].kind is Kind.AREA and number.endswith("0")))
    assert reader is not None
    assert reader(f"{number} {alias}").unit == unit


@given(st.fractions(min_value=-(10**12), max_value=10**12), places)
def test_decimal_text_has_no_exponent(value: Fraction, places: int) -> None:
    text = format_number(value, places)
    assert set(text) <= set("-0123456789.")
    assert text != "-0"
    assert "." not in text or text[-1] not in "0."
    assert abs(Fraction(text) - value) <= Fraction(1, 2 * 10**places)


# Arbitrary text ---------------------------------------------------------------------------------------------------

anything = st.one_of(
    st.text(max_size=100),
    st.text("0123456789.,/-+ %xeEMmoztgalsqf°'\"½\u0660\x1b\ud800", max_size=40),
    st.builds("{}{}{}".format, decimals(), st.sampled_from(["", " ", "-", "/", ","]), st.text(max_size=12)),
    st.none() | st.booleans() | st.integers() | st.floats() | st.binary(max_size=5) | st.lists(st.integers()),
)


@given(anything)
def test_nothing_but_a_quantity_error(text: object) -> None:
    readers: tuple[Callable[[object], object], ...] = (
        parse_area,
        parse_volume,
        parse_speed,
        parse_temperature,
        parse_output,
        parse_direction,
        *(lambda text, form=form: parse_amount(text, form) for form in Form),
        *(lambda text, form=form: parse_rate(text, form) for form in Form),
    )
    for reader in readers:
        try:
            read = reader(text)
        except QuantityError as error:
            assert str(error).isprintable()  # noqa: PT017 - most texts are refused, some are not
        else:
            assert reader(str(read)) == read


# Arithmetic -------------------------------------------------------------------------------------------------------


@given(fractions, st.data())
def test_conversion_round_trip(value: Fraction, data: st.DataObject) -> None:
    source = data.draw(st.sampled_from([unit for unit in UNITS.values() if unit.kind is not Kind.OUNCE]))
    target = data.draw(st.sampled_from([unit for unit in UNITS.values() if unit.kind is source.kind]))
    there = convert(value, source.symbol, target.symbol)
    assert isinstance(there, Fraction)
    assert convert(there, target.symbol, source.symbol) == value


@given(fractions, st.sampled_from(["acre", "ha", "sq m", "1000 sq ft"]))
def test_an_acre_is_43560_square_feet(value: Fraction, unit: str) -> None:
    assert convert(value, "acre", "sq ft") == value * 43560
    assert convert(convert(value, unit, "acre"), "acre", "sq ft") == convert(value, unit, "sq ft")


@given(
    decimals(least=1, most=10**5),
    decimals(least=1, most=10**6, deepest=2),
    st.sampled_from(WEIGHTS),
    st.sampled_from(AREAS),
    st.sampled_from(PER_AREA),
)
def test_any_two_give_the_third(rate_text: str, area_text: str, unit: str, area_unit: str, per_unit: str) -> None:
    rate = parse_rate(f"{rate_text} {unit}/{per_unit}", Form.DRY)
    area = Quantity(Fraction(area_text), area_unit, half_of(area_text))
    amount = rate.amount(area)
    assert amount.base == rate.base * area.base
    assert amount.base / area.base == rate.base
    assert amount.base / rate.base == area.base


@given(
    decimals(most=10**5),
    decimals(most=10**6),
    st.fractions(-1, 1),
    st.fractions(-1, 1),
    st.sampled_from(["gal", "acre"]),
)
def test_readings_of_rate_and_size_stay_within_the_reading_of_the_amount(
    rate_text: str, size_text: str, rate_off: Fraction, size_off: Fraction, per: str
) -> None:
    """Whatever was really sprayed and still reads as written makes an amount that the worked-out one stands for."""
    rate = parse_rate(f"{rate_text} fl oz/{per}", Form.LIQUID)
    size = Quantity(Fraction(size_text), per, half_of(size_text))
    amount = rate.amount(size)
    really = (rate.base + rate_off * rate.base_half) * (size.base + size_off * size.base_half)
    assert abs(really - amount.base) <= amount.base_half


# Limits -----------------------------------------------------------------------------------------------------------


@given(decimals(), fractions)
def test_over_is_more_than_the_reading_and_never_more_than_two_per_cent(number: str, limit: Fraction) -> None:
    """The whole rule in one line: over when the entry passes the limit by more than its reading or 2 % of the limit."""
    value, half = Fraction(number), half_of(number)
    assert exceeds(value - half, value, limit) is (value - limit > min(half, limit / 50))


@given(decimals(), places)
def test_value_at_the_limit_is_never_over(number: str, more: int) -> None:
    limit = Fraction(number)
    for half in (half_of(number), half_of(number) / 10**more, Fraction(0)):
        assert not exceeds(limit - half, limit, limit)


@given(decimals(), places)
def test_next_reading_above_is_always_over(number: str, more: int) -> None:
    """One step up in the last place the limit is printed with, or in any place behind it, is over.

    A step is twice the half-width of its reading, so the lowest value that reads so is still above the limit.
    """
    limit = Fraction(number)
    step = 2 * half_of(number) / 10**more
    assert exceeds(limit + step / 2, limit + step, limit)


@given(decimals(), st.integers(1, 6), fractions)
def test_fewer_decimals_than_the_limit(number: str, fewer: int, over: Fraction) -> None:
    """A coarser entry has its reading's benefit up to 2 % of the limit, and not a hair more."""
    limit = Fraction(number)
    half = half_of(number) * 10**fewer
    allowed = min(half, limit / 50)
    assert not exceeds(limit + allowed - half, limit + allowed, limit)
    assume(over)
    assert exceeds(limit + allowed + over - half, limit + allowed + over, limit)


@given(st.fractions(0, 10**6), st.fractions(0, 10**6), st.fractions(0, 10**6))
def test_more_is_never_less_over(value: Fraction, more: Fraction, limit: Fraction) -> None:
    if exceeds(value, value, limit):
        assert exceeds(value + more, value + more, limit)


@given(st.fractions(0, 360))
def test_nearest_point(degrees: Fraction) -> None:
    center = parse_direction(point_of(degrees)).point
    assert center == point_of(degrees + 360)
    turned = point_of(degrees + 180)
    assert parse_direction(center).downwind == turned
