"""Amounts as they are written: text in, text out, exact in between.

A `Quantity` keeps the number as typed, its exact value and the half-width of the reading it stands for: `0.47 fl oz`
is whatever would be written so, 0.465 to 0.475. A `Rate` is an amount per area (`1.1 fl oz/1000 sq ft`) or per
finished spray (`0.6 fl oz/gal`, `0.5 % v/v`). Values are `Fraction`: a third of an ounce and a fluid ounce in
millilitres have no exact decimal form. Text becomes a fraction through `Decimal`; no binary float is involved.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction
from functools import cached_property, lru_cache

from records.domain.numerals import (
    HALF,
    ZERO,
    QuantityError,
    clean,
    find_unit,
    shown,
    split_number,
)
from records.units import UNITS, Kind, convert, factor

READING_CAP = Fraction(2, 100)  # a reading's benefit never exceeds 2 % of the limit


class UnitKindError(QuantityError):
    """An amount of the wrong kind: a weight on a liquid, a volume on a dry product."""


class Form(StrEnum):
    """What a product is as bought."""

    LIQUID = "liquid"
    DRY = "dry"
    GRANULE = "granule"
    UNKNOWN = "unknown"  # imported from a source that does not say

    @property
    def kind(self) -> Kind:
        """Return the kind of unit the form is measured in."""
        if self is Form.UNKNOWN:
            return Kind.OUNCE
        return Kind.VOLUME if self is Form.LIQUID else Kind.WEIGHT


class Per(StrEnum):
    """What a rate is related to."""

    AREA = "area"
    SPRAY = "spray"


# No slots here: what follows from an amount is worked out once and kept in it, since every check asks for it.
@dataclass(frozen=True)
class Quantity:
    """An amount with its unit, exact, and the half-width of what its written number may stand for."""

    value: Fraction
    unit: str
    half: Fraction = ZERO
    number: str = ""

    @cached_property
    def kind(self) -> Kind:
        """Return what the amount measures."""
        return UNITS[self.unit].kind

    @cached_property
    def base(self) -> Fraction:
        """Return the amount in its kind's base unit (fl oz, lb, sq ft, mph)."""
        return self.value * factor(self.unit)

    @cached_property
    def base_half(self) -> Fraction:
        """Return the half-width of the reading in the base unit."""
        return self.half * factor(self.unit)

    def __hash__(self) -> int:
        """Return a hash of how it is written: one of a fraction takes as long as an arithmetic operation."""
        return hash((self.number, self.unit))

    @cached_property
    def base_low(self) -> Fraction:
        """Return the lowest amount that reads so, in the base unit."""
        return self.base - self.base_half

    def to(self, unit: str) -> Fraction:
        """Return the exact value in another unit of the same kind."""
        return convert(self.value, self.unit, unit)

    def __str__(self) -> str:
        """Return number and unit, the number as it was typed where it was."""
        times = "x " if self.unit == "1000 sq ft" else ""  # "4 1000 sq ft" would read as one number
        return f"{self.number or format_number(self.value)} {times}{self.unit}"


@dataclass(frozen=True)
class Rate:
    """An amount per area or per finished spray; `unit` is `%` for per cent by volume."""

    value: Fraction
    unit: str
    per: Per
    per_unit: str
    half: Fraction = ZERO
    number: str = ""

    @cached_property
    def kind(self) -> Kind:
        """Return the kind of the amount on top."""
        return Kind.VOLUME if self.unit == "%" else UNITS[self.unit].kind

    @cached_property
    def _scale(self) -> Fraction:
        if self.unit == "%":
            return Fraction(1, 100)
        return factor(self.unit) / _per_size(self.per_unit)

    @cached_property
    def base(self) -> Fraction:
        """Return the rate in base units: fl oz or lb, per sq ft or per fl oz of spray."""
        return self.value * self._scale

    @cached_property
    def base_half(self) -> Fraction:
        """Return the half-width of the reading in base units."""
        return self.half * self._scale

    def __hash__(self) -> int:
        """Return a hash of how it is written, as a quantity does."""
        return hash((self.number, self.unit, self.per_unit))

    @cached_property
    def base_low(self) -> Fraction:
        """Return the lowest rate that reads so, in base units."""
        return self.base - self.base_half

    def amount(self, over: Quantity) -> Quantity:
        """Return the product for an area (or for a volume of spray), exact, in the rate's own amount unit.

        The half-width covers every product of the two readings.

        Args:
            over: the area for a rate per area, the finished spray for a rate per spray.

        Raises:
            UnitKindError: an area for a rate per spray, or the other way round.
        """
        wanted = Kind.AREA if self.per is Per.AREA else Kind.VOLUME
        if over.kind is not wanted:
            raise UnitKindError(
                f"rate {self} needs {'an area' if wanted is Kind.AREA else 'a volume of spray'}, not {over}"
            )
        each, each_half = self._each
        half = each_half * over.base + (each + each_half) * over.base_half
        return Quantity(each * over.base, "fl oz" if self.unit == "%" else self.unit, half)

    @cached_property
    def _each(self) -> tuple[Fraction, Fraction]:
        """Return the product for one base unit of area or of spray, in the rate's own amount unit; its half-width."""
        per = Fraction(100) if self.unit == "%" else _per_size(self.per_unit)
        return self.value / per, self.half / per

    def like(self, base: Fraction) -> str:
        """Write another rate, given in base units, the way this one is written."""
        return f"{format_number(base / self._scale)} {self.unit_text}"

    @property
    def unit_text(self) -> str:
        """Return the unit part as printed: `fl oz/1000 sq ft`, `% v/v`."""
        return "% v/v" if self.unit == "%" else f"{self.unit}/{self.per_unit}"

    @property
    def basis(self) -> tuple[Per, str]:
        """Return a key that two rates share when they are printed on one basis."""
        return self.per, "%" if self.unit == "%" else self.per_unit

    def __str__(self) -> str:
        """Return the rate as typed, its units spelled the canonical way."""
        return f"{self.number or format_number(self.value)} {self.unit_text}"


def format_number(value: Fraction, places: int = 6) -> str:
    """Write a number as plain decimal text: exact when it fits, else rounded half-even.

    Args:
        value: the number.
        places: decimals kept at most; small numbers keep four significant digits, up to nine decimals.
    """
    if value and abs(value.numerator) * 10**places < 1000 * value.denominator:
        places = max(places, 9)
    return decimal_text(value, places)


def to_decimal(value: Fraction, places: int) -> Decimal:
    """Return the value rounded half-even to so many decimals, without trailing zeros; `format(..., "f")` shows it."""
    return Decimal(decimal_text(value, places))


def decimal_text(value: Fraction, places: int) -> str:
    """Return the value rounded half-even to so many decimals as plain text, without trailing zeros."""
    whole, bottom = value.numerator, value.denominator
    if bottom == 1:
        return str(whole)
    whole, rest = divmod(whole * 10**places, bottom)
    if 2 * rest > bottom or (2 * rest == bottom and whole % 2):
        whole += 1
    return scaled_text(whole, places)


def scaled_text(count: int, places: int) -> str:
    """Return so many of the smallest step of so many decimals as plain text, without trailing zeros."""
    digits = str(abs(count)).rjust(places + 1, "0")
    text = (digits[: len(digits) - places] + "." + digits[len(digits) - places :]).rstrip("0").rstrip(".")
    return f"-{text}" if count < 0 else text


# What is most likely meant by a unit of another kind than the one wanted.
_MISTAKEN = {
    "oz": "may be an ounce by volume or by weight; write fl oz or oz wt",
    "m": "is in meters (the trade's M for 1,000 sq ft is a capital letter)",
    "degC": "is in degrees Celsius; write cup for the measure",
}
_THOUSANDS = re.compile(r"(?<=\d)(?:\s*[x×*]\s*|\s+)(?:1,?000|k|thousand)\s+(?=sq)", re.IGNORECASE)
# Nobody measures a thousandth of a square foot: the point is a slip for the comma, or a thousands point. Only with a
# zero at the end, which no number written by `format_number` has: what the tool writes it also reads.
_POINT_FOR_COMMA = re.compile(r"[1-9]\d{0,2}\.\d\d0")


@lru_cache(maxsize=4096)
def _parse(text: str, kinds: frozenset[Kind], what: str, example: str) -> Quantity:
    value, half, number, rest = split_number(text, what, example, signed=kinds == {Kind.TEMPERATURE})
    unit = find_unit(rest, what, text, example)
    kind = UNITS[unit].kind
    if kind not in kinds:
        wanted = " or ".join(sorted(k for k in kinds if k is not Kind.OUNCE))
        wrong = _MISTAKEN.get(unit, f"is a {kind}; {wanted} is wanted")
        raise UnitKindError(f"{what} {shown(text)} {wrong}, such as {example}")
    return Quantity(value, unit, half, number)


_AREA = "4,200 sq ft or 0.25 acre"


def parse_area(text: object) -> Quantity:
    """Read an area such as `4,200 sq ft`, `0.25 acre`, `4.2 M` (the trade's M is 1,000 sq ft).

    Raises:
        QuantityError: no single amount of area.
    """
    return _parse_area(clean(text, "area", _AREA))


@lru_cache(maxsize=4096)
def _parse_area(text: str) -> Quantity:
    cleaned = _THOUSANDS.sub(" 1000 ", text)
    cleaned = re.sub(r"(?<=\d)\s*M$", " 1000 sq ft", cleaned)
    area = _parse(cleaned, frozenset({Kind.AREA}), "area", _AREA)
    if area.unit in {"sq ft", "sq yd", "sq m"} and _POINT_FOR_COMMA.fullmatch(area.number):
        raise QuantityError(
            f"area {shown(cleaned)} has a point where thousands have a comma; write "
            f"{area.number.replace('.', ',')} {area.unit} or {format_number(area.value)} {area.unit}"
        )
    return area


def parse_volume(text: object) -> Quantity:
    """Read a volume of spray or water such as `8.4 gal`, `1-1/2 qt`, `2 L`.

    Raises:
        QuantityError: no single volume.
    """
    example = "8.4 gal or 3 qt"
    return _parse(clean(text, "volume", example), frozenset({Kind.VOLUME}), "volume", example)


def parse_length(text: object) -> Quantity:
    """Read a length such as `25 ft`, `6 in`, `12.5 m`.

    Raises:
        QuantityError: no single length.
    """
    example = "25 ft or 6 in"
    return _parse(clean(text, "length", example), frozenset({Kind.LENGTH}), "length", example)


def parse_speed(text: object) -> Quantity:
    """Read a speed such as `7 mph`, `11 km/h`; `calm` is zero.

    Raises:
        QuantityError: no single speed.
    """
    example = "7 mph (0 mph when calm)"
    cleaned = clean(text, "wind speed", example)
    if cleaned.lower().rstrip(".") == "calm":
        return Quantity(ZERO, "mph", HALF, "0")
    return _parse(cleaned, frozenset({Kind.SPEED}), "wind speed", example)


def parse_temperature(text: object) -> Quantity:
    """Read a temperature such as `84 degF`, `29 degC`; may be below zero.

    Raises:
        QuantityError: no single temperature.
    """
    example = "84 degF or 29 degC"
    return _parse(clean(text, "temperature", example), frozenset({Kind.TEMPERATURE}), "temperature", example)


def settle(unit: str, form: Form, what: str = "amount") -> str:
    """Settle which ounce is meant by the product's form, and refuse a kind the form is not measured in.

    Args:
        unit: symbol as typed.
        form: of the product.
        what: the word for messages.

    Returns:
        The symbol to use: `oz` becomes `fl oz` or `oz wt`.

    Raises:
        UnitKindError: a weight on a liquid or a volume on a dry product.
    """
    if unit == "oz":
        return {Kind.VOLUME: "fl oz", Kind.WEIGHT: "oz wt"}.get(form.kind, "oz")
    if unit == "%":
        if form.kind is Kind.WEIGHT:
            raise UnitKindError(
                f"{what} is per cent by volume, but the product is {form.value}; give a weight, such as 0.9 g/gal"
            )
        return unit
    kind = UNITS[unit].kind
    if form is Form.UNKNOWN or kind is form.kind:
        return unit
    better = "fl oz, pt, qt, gal or mL" if form is Form.LIQUID else "oz wt, lb, g or kg"
    raise UnitKindError(
        f"{what} in {unit} is a {kind}, but the product is {form.value} and is measured by {form.kind}; use {better}"
    )


def parse_amount(text: object, form: Form) -> Quantity:
    """Read an amount of product; a bare ounce follows the form (fluid for liquid, by weight otherwise).

    Raises:
        QuantityError: no single amount.
        UnitKindError: its kind does not fit the form.
    """
    example = "4.62 fl oz or 1 1/2 pt" if form.kind is Kind.VOLUME else "2.3 oz wt, 65 g or 5 lb"
    return _parse_amount(clean(text, "amount", example), form, example)


@lru_cache(maxsize=4096)
def _parse_amount(text: str, form: Form, example: str) -> Quantity:
    amount = _parse(text, frozenset({Kind.VOLUME, Kind.WEIGHT, Kind.OUNCE}), "amount", example)
    return Quantity(amount.value, settle(amount.unit, form), amount.half, amount.number)


_PER_THOUSAND = re.compile(
    r"(?-i:1?\s*M)|(?:1[, ]?000|k|thousand)\s*(?:(?:sq\.?|square)\s*(?:ft|feet|foot)\.?|ft2|ft\^2|ft²|sf)",
    re.IGNORECASE,
)
_PER_COUNTED = {
    "100 gal": re.compile(r"100\s*gal(?:lons?|s)?\.?", re.IGNORECASE),
    "100 L": re.compile(r"100\s*(?:l|lit(?:er|re)s?)", re.IGNORECASE),
    "100 sq ft": re.compile(r"100\s*(?:sq\.?\s*(?:ft|feet)\.?|square feet|ft2|ft²)", re.IGNORECASE),
}
_PER_SIZES = {"100 gal": (100, "gal"), "100 L": (100, "L"), "100 sq ft": (100, "sq ft")}
_PERCENT = re.compile(
    r"(?:%|per\s?cent)\s*(?:\(?\s*v\s*/\s*v\s*\)?|by\s+vol(?:ume)?\.?|vol(?:ume)?\s*/\s*vol(?:ume)?)", re.IGNORECASE
)


@lru_cache(maxsize=64)
def _per_size(unit: str) -> Fraction:
    count, symbol = _PER_SIZES.get(unit, (1, unit))
    return count * factor(symbol)


def _per(text: str, what: str, whole: str, example: str) -> str:
    """Return the canonical denominator: `1000 sq ft`, `acre`, `ha`, `gal`, `L`, `100 gal` ..."""
    if _PER_THOUSAND.fullmatch(text):
        return "1000 sq ft"
    for symbol, pattern in _PER_COUNTED.items():
        if pattern.fullmatch(text):
            return symbol
    text = re.sub(
        r"\s+(?:of\s+)?(?:finished\s+|spray\s+)*(?:spray|mix|water|solution)(?:\s+mix)?$",
        "",
        text,
        flags=re.IGNORECASE,
    )
    unit = find_unit(re.sub(r"^1\s+", "", text), what, whole, example)
    if UNITS[unit].kind not in {Kind.AREA, Kind.VOLUME}:
        wrong = _MISTAKEN.get(unit, "is not per area or per volume of spray")
        raise QuantityError(f"{what} {shown(whole)} {wrong}; write it like {example}")
    return unit


@lru_cache(maxsize=4096)
def _parse_rate(text: str, what: str, example: str) -> Rate:
    value, half, number, rest = split_number(text, what, example)
    if _PERCENT.fullmatch(rest):
        return Rate(value, "%", Per.SPRAY, "spray", half, number)
    if rest.upper() == "GPA":
        return Rate(value, "gal", Per.AREA, "acre", half, number)
    top, slash, bottom = rest.partition("/")
    if not slash:
        top, slash, bottom = re.sub(r"\s+per\s+", "/", rest, count=1, flags=re.IGNORECASE).partition("/")
    if not slash:
        unit = find_unit(rest, what, text, example)
        raise QuantityError(f"{what} {shown(text)} is an amount ({unit}), not a rate; say per what, such as {example}")
    unit = find_unit(top.strip(), what, text, example)
    if UNITS[unit].kind not in {Kind.VOLUME, Kind.WEIGHT, Kind.OUNCE}:
        raise QuantityError(f"{what} {shown(text)} does not begin with an amount of product; write it like {example}")
    per_unit = _per(bottom.strip(), what, text, example)
    kind = UNITS[_PER_SIZES.get(per_unit, (1, per_unit))[1]].kind
    return Rate(value, unit, Per.AREA if kind is Kind.AREA else Per.SPRAY, per_unit, half, number)


def parse_rate(text: object, form: Form, what: str = "rate") -> Rate:
    """Read a rate: per area (`0.085 oz/M`, `20 fl oz/acre`, `1.5 L/ha`) or per spray (`0.6 fl oz/gal`, `0.5 % v/v`).

    Raises:
        QuantityError: not one amount per area or per volume of spray.
        UnitKindError: its kind does not fit the form.
    """
    example = (
        "1.1 fl oz/1000 sq ft or 0.6 fl oz/gal" if form.kind is Kind.VOLUME else "0.085 oz/1000 sq ft or 0.9 g/gal"
    )
    return _parse_rate_of(clean(text, what, example), form, what, example)


@lru_cache(maxsize=4096)
def _parse_rate_of(text: str, form: Form, what: str, example: str) -> Rate:
    rate = _parse_rate(text, what, example)
    return Rate(rate.value, settle(rate.unit, form, what), rate.per, rate.per_unit, rate.half, rate.number)


def parse_output(text: object) -> Rate:
    """Read a calibrated output of spray per area: `1 gal/1000 sq ft`, `44 GPA`.

    Raises:
        QuantityError: not a volume per area.
    """
    example = "1 gal/1000 sq ft or 44 GPA"
    rate = _parse_rate(clean(text, "output", example), "output", example)
    if rate.per is not Per.AREA or rate.kind is not Kind.VOLUME:
        raise QuantityError(f"output {rate} is not a volume of spray per area; write it like {example}")
    return rate


def exceeds(low: Fraction, high: Fraction, limit: Fraction) -> bool:
    """Tell whether a reading passes a limit.

    The benefit of the reading goes to the applicator, but never more than 2 % of the limit: the lowest amount that
    reads so has to pass the limit before it counts as over.

    Args:
        low: the lowest amount that reads as written.
        high: the written amount itself, in the same unit as `limit`.
        limit: the limit, taken as the exact number printed.
    """
    # Most amounts are within: no need to work out the benefit then, as neither side of it is above the amount.
    return high > limit and max(low, high - abs(limit) * READING_CAP) > limit
