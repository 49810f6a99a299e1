"""The unit registry: exact factors, one acre, and names that mean one thing."""

from __future__ import annotations

from fractions import Fraction

import pint
import pytest

from records.units import ALIASES, UNITS, Kind, convert, factor, registered_factor


@pytest.mark.parametrize(
    ("symbol", "expected"),
    [
        ("gal", Fraction(128)),
        ("fl oz", Fraction(1)),
        ("tsp", Fraction(1, 6)),
        ("mL", 1 / Fraction("29.5735295625")),  # NIST Handbook 44, appendix C
        ("lb", Fraction(1)),
        ("oz wt", Fraction(1, 16)),
        ("ton", Fraction(2000)),
        ("g", 1 / Fraction("453.59237")),  # NIST SP 811, appendix B
        ("acre", Fraction(43560)),
        ("1000 sq ft", Fraction(1000)),
        ("sq yd", Fraction(9)),
        ("ha", 10000 / Fraction("0.3048") ** 2),
        ("in", Fraction(1, 12)),
        ("km/h", 1 / Fraction("1.609344")),
        ("kn", Fraction(1852) / Fraction("1609.344")),
    ],
)
def test_factor_is_exact(symbol: str, expected: Fraction) -> None:
    assert factor(symbol) == expected


def test_every_unit_with_a_factor_is_a_positive_fraction() -> None:
    for unit in UNITS.values():
        if unit.kind not in {Kind.OUNCE, Kind.TEMPERATURE}:
            assert isinstance(factor(unit.symbol), Fraction)
            assert factor(unit.symbol) > 0


def test_the_factors_written_down_are_the_registry_s() -> None:
    for unit in UNITS.values():
        if unit.kind not in {Kind.OUNCE, Kind.TEMPERATURE}:
            assert factor(unit.symbol) == registered_factor(unit.symbol)


@pytest.mark.parametrize("symbol", ["oz", "degF", "bushel"])
def test_no_factor(symbol: str) -> None:
    with pytest.raises(KeyError):
        factor(symbol)


def test_acre_is_not_pints_acre() -> None:
    """Ours is 43,560 square international feet; pint's default is built on the retired US survey foot.

    The ratio is (1200/3937/0.3048)^2 = 1.000004000012...: NIST SP 811 (2008), appendix B.
    """
    default: pint.UnitRegistry[Fraction] = pint.UnitRegistry(non_int_type=Fraction, cache_folder=None)
    theirs = Fraction(default.convert(Fraction(1), "acre", "meter ** 2"))
    ours = convert(Fraction(1), "acre", "sq m")
    assert factor("acre") == 43560
    assert ours == Fraction("4046.8564224")
    assert theirs != ours
    assert theirs / ours == (Fraction(1200, 3937) / Fraction("0.3048")) ** 2


@pytest.mark.parametrize(
    ("fahrenheit", "celsius"),
    [
        # NIST SP 811: t/degC = (t/degF - 32)/1.8; exact pairs, from memory
        ("32", "0"),
        ("50", "10"),
        ("59", "15"),
        ("77", "25"),
        ("86", "30"),
        ("95", "35"),
        ("212", "100"),
        ("-40", "-40"),
    ],
)
def test_temperature(fahrenheit: str, celsius: str) -> None:
    assert convert(Fraction(fahrenheit), "degF", "degC") == Fraction(celsius)
    assert convert(Fraction(celsius), "degC", "degF") == Fraction(fahrenheit)


def test_published_weather_note_in_celsius() -> None:
    """57 degF is 13.89 degC: Virginia turf trial weather notes, Virginia Tech Hampton Roads AREC, 2015."""
    assert abs(convert(Fraction(57), "degF", "degC") - Fraction("13.89")) <= Fraction("0.005")


@pytest.mark.parametrize(("source", "target"), [("fl oz", "oz wt"), ("acre", "ft"), ("oz", "fl oz"), ("degF", "mph")])
def test_kinds_do_not_mix(source: str, target: str) -> None:
    with pytest.raises(ValueError, match="measures"):
        convert(Fraction(1), source, target)


def test_same_unit_is_left_alone() -> None:
    assert convert(Fraction(1, 3), "oz", "oz") == Fraction(1, 3)


def test_every_symbol_is_its_own_alias_and_every_alias_a_symbol() -> None:
    for symbol in UNITS:
        assert ALIASES[symbol.lower()] == symbol
    assert set(ALIASES.values()) == set(UNITS)


def test_aliases_are_written_as_they_are_looked_up() -> None:
    for alias in ALIASES:
        assert alias == " ".join(alias.lower().replace(".", " ").split())


def test_no_alias_for_what_is_ambiguous() -> None:
    """T is a teaspoon to some and a tablespoon to others, K a thousand of anything; a bare ounce keeps its own kind."""
    assert not {"t", "k", "mm", "#", "barrel", "dr"} & set(ALIASES)
    assert UNITS[ALIASES["oz"]].kind is Kind.OUNCE
