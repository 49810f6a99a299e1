"""Amounts as tired people type them: read exactly, echoed as typed, or refused with the way to write them."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest

from records.domain.numerals import QuantityError
from records.domain.quantities import (
    Form,
    Per,
    Quantity,
    Rate,
    UnitKindError,
    exceeds,
    format_number,
    parse_amount,
    parse_area,
    parse_output,
    parse_rate,
    parse_speed,
    parse_temperature,
    parse_volume,
    settle,
    to_decimal,
)
from records.units import Kind

READERS = {
    "area": parse_area,
    "volume": parse_volume,
    "wind speed": parse_speed,
    "temperature": parse_temperature,
    "amount": lambda text: parse_amount(text, Form.LIQUID),
    "dry amount": lambda text: parse_amount(text, Form.DRY),
    "rate": lambda text: parse_rate(text, Form.LIQUID),
    "dry rate": lambda text: parse_rate(text, Form.DRY),
    "output": parse_output,
}

# What is typed -> how it is echoed. The echo shows the number as typed and the unit in full.
READ = [
    ("rate", "1.1fl oz/1000sqft", "1.1 fl oz/1000 sq ft"),
    ("rate", "0.75 floz / M", "0.75 fl oz/1000 sq ft"),
    ("rate", "0.75 floz/1M", "0.75 fl oz/1000 sq ft"),
    ("rate", "1 oz./1000 sq. ft.", "1 fl oz/1000 sq ft"),
    ("rate", "1 fl. oz. per 1,000 square feet", "1 fl oz/1000 sq ft"),
    ("rate", "1 oz/1 000 sq ft", "1 fl oz/1000 sq ft"),
    ("rate", "1 oz/1000ft^2", "1 fl oz/1000 sq ft"),
    ("rate", "1 oz/MSF", "1 fl oz/1000 sq ft"),
    ("rate", "1 oz/thousand square ft", "1 fl oz/1000 sq ft"),
    ("rate", "1 oz/100 sq ft", "1 fl oz/100 sq ft"),
    ("rate", "3 pts/A", "3 pt/acre"),
    ("rate", "12 fl oz/ac.", "12 fl oz/acre"),
    ("rate", "1,000 mL/acre", "1000 mL/acre"),
    ("rate", "1.5 L / ha", "1.5 L/ha"),
    ("rate", "1 fl oz / 1 gal", "1 fl oz/gal"),
    ("rate", "2 Tbsp. per gallon of water", "2 tbsp/gal"),
    ("rate", "1 oz per gal of finished spray mix", "1 fl oz/gal"),
    ("rate", "1 qt per 100 gallons", "1 qt/100 gal"),
    ("rate", "1 L/100 L", "1 L/100 L"),
    ("rate", "1½ oz/gal", "1 1/2 fl oz/gal"),
    ("rate", "44gpa", "44 gal/acre"),
    ("rate", "0.5%v/v", "0.5 % v/v"),
    ("rate", "0.5 % (v/v)", "0.5 % v/v"),
    ("rate", "0.5 percent by volume", "0.5 % v/v"),
    ("rate", "0.5 per cent vol/vol", "0.5 % v/v"),
    ("dry rate", "2 lbs / 1,000 ft2", "2 lb/1000 sq ft"),
    ("dry rate", "0.085 oz/M", "0.085 oz wt/1000 sq ft"),
    ("dry rate", "250 g/ha", "250 g/ha"),
    ("dry rate", ".9g/gal", "0.9 g/gal"),
    ("output", "1 gal per 1000 sq ft", "1 gal/1000 sq ft"),
    ("amount", "8.4gal", "8.4 gal"),
    ("amount", "5 oz.", "5 fl oz"),
    ("amount", "5\u00a0oz\n", "5 fl oz"),
    ("amount", "+1 oz", "1 fl oz"),
    ("amount", "5. gal", "5 gal"),
    ("amount", "3/4 pt", "3/4 pt"),
    ("amount", "1-1/2 qt", "1 1/2 qt"),
    ("amount", "1 \N{VULGAR FRACTION ONE HALF} qt", "1 1/2 qt"),
    ("amount", "1\N{FRACTION SLASH}2 pt", "1/2 pt"),
    ("amount", "2 Tbl", "2 tbsp"),
    ("amount", "10 cc", "10 mL"),
    ("amount", "2 US gallons", "2 gal"),
    ("dry amount", "5 LBS", "5 lb"),
    ("dry amount", "16 wt. oz.", "16 oz wt"),
    ("dry amount", "2.3 ounces", "2.3 oz wt"),
    ("area", "1/10 acre", "1/10 acre"),
    ("area", "0.25 ac.", "0.25 acre"),
    ("area", "4,200 sqft.", "4200 sq ft"),
    ("area", "4200 ft²", "4200 sq ft"),
    ("area", "4200 square ft", "4200 sq ft"),
    ("area", "4.2M", "4.2 x 1000 sq ft"),
    ("area", "4.2 x 1,000 sq ft", "4.2 x 1000 sq ft"),
    ("area", "4.2k sq ft", "4.2 x 1000 sq ft"),
    ("area", "4.2 thousand square feet", "4.2 x 1000 sq ft"),
    ("area", "4 1/2 M", "4 1/2 x 1000 sq ft"),
    ("area", "400 m²", "400 sq m"),
    ("area", "4.235 acre", "4.235 acre"),
    ("area", "0.250 sq ft", "0.250 sq ft"),
    ("volume", "1000 mL", "1000 mL"),
    ("wind speed", "7 m.p.h.", "7 mph"),
    ("wind speed", "Calm.", "0 mph"),
    ("wind speed", "11 kph", "11 km/h"),
    ("wind speed", "5kts", "5 kn"),
    ("temperature", "71F", "71 degF"),
    ("temperature", "71˚F", "71 degF"),
    ("temperature", "−5 °C", "-5 degC"),
    ("temperature", "- 0.5 F", "-0.5 degF"),
]

# What is typed -> words of the message. Nothing of these may be read as some number that was not meant.
REFUSED = [
    ("area", "0,25 acre", "comma out of place"),
    ("area", "0,250 acre", "comma out of place"),
    ("amount", "1,1 oz", "comma out of place"),
    ("amount", "0,500 oz", "comma out of place"),
    ("amount", "1.234,5 oz", "comma out of place"),
    ("amount", "1,234,5 oz", "comma out of place"),
    ("rate", "1,1 oz/M", "comma out of place"),
    ("area", "4,2 M", "comma out of place"),
    ("area", "4,2 x 1000 sq ft", "comma out of place"),
    ("area", "4,2000 sq ft", "digits out of place"),
    ("area", "4 200 sq ft", "digits out of place"),
    ("area", "42 00 sq ft", "digits out of place"),
    ("area", "4.200 sq ft", "write 4,200 sq ft or 4.2 sq ft"),
    ("area", "1.230 sq m", "write 1,230 sq m or 1.23 sq m"),
    ("area", "43560", "bare number"),
    ("area", "4200 feet", "is a length"),
    ("area", "4.2 m", "capital letter"),
    ("area", "4 K", "1000 sq ft"),
    ("area", "4 x 1000 sq yd", "digits out of place"),
    ("area", "50 x 84 ft", "is a calculation"),
    ("area", "50' x 84'", "is a calculation"),
    ("area", "quarter acre", "spells the number out"),
    ("area", "1 acre-foot", "not known"),
    ("area", "4200 +/- 100 sq ft", "range or a sum"),
    ("amount", "half pint", "spells the number out"),
    ("amount", "a pint", "spells the number out"),
    ("amount", "~5 gal", "not one definite amount"),
    ("amount", "about 5 oz", "not one definite amount"),
    ("amount", "<5 oz", "not one definite amount"),
    ("amount", "5-6 gal", "range or a sum"),
    ("amount", "5 to 6 gal", "range or a sum"),
    ("amount", "3\N{EN DASH}4 oz", "range or a sum"),
    ("amount", "1 gal and 2 qt", "range or a sum"),
    ("amount", "1 gal 2 qt", "more than one amount"),
    ("amount", "1.5.2 gal", "more than one amount"),
    ("amount", "2 x 5 oz", "is a calculation"),
    ("amount", "1/0 pt", "divides by zero"),
    ("amount", "11/2 pt", "a blank and the fraction"),
    ("amount", "1 3/3 pt", "a blank and the fraction"),
    ("amount", "1/2/3 pt", "not a plain number"),
    ("amount", "1 / 2 oz", "not a plain number"),
    ("amount", "1e3 oz", "not a plain number"),
    ("amount", "-1 oz", "negative"),
    ("amount", "−1 oz", "negative"),
    ("amount", "nan", "does not begin with a number"),
    ("amount", "oz 5", "does not begin with a number"),
    ("amount", "\N{ARABIC-INDIC DIGIT FIVE} oz", "does not begin with a number"),
    ("amount", "5 oz (approx)", "not known"),
    ("amount", "5 imperial gal", "US gallons"),
    ("amount", "2 T", "tsp or tbsp"),
    ("amount", "2 c", "write cup"),
    ("amount", "5#", "write lb"),
    ("amount", "2 capfuls", "what it holds"),
    ("amount", "5%", "per cent of what"),
    ("amount", "1234567890123456789012345 oz", "too many digits"),
    ("amount", "5 oz \x1b[31m", "more than one amount"),
    ("amount", "", "empty"),
    ("amount", " \t", "empty"),
    ("amount", "5" * 81, "81 characters"),
    ("amount", None, "not text"),
    ("amount", True, "not text"),
    ("amount", b"5 oz", "not text"),
    ("amount", 5, "bare number"),
    pytest.param("amount", 10**5000, "bare number", id="amount-huge-integer"),
    ("amount", 5.5, "bare number"),
    ("amount", Decimal("5.5"), "bare number"),
    ("amount", "1 lb", "is a weight"),
    ("amount", "1 acre", "is a area"),
    ("dry amount", "1 pt", "is a volume"),
    ("volume", "3 oz", "write fl oz"),
    ("volume", "3 lb", "is a weight"),
    ("rate", "1:128", "is a ratio"),
    ("rate", "12-16 oz/A", "range or a sum"),
    ("rate", "12 to 16 oz/acre", "range or a sum"),
    ("rate", "5%", "per cent of what"),
    ("rate", "0.25 percent", "per cent of what"),
    ("rate", "2 T/gal", "tsp or tbsp"),
    ("rate", "1 oz/K", "1000 sq ft"),
    ("rate", "1 oz/1000", "per 1000 of what"),
    ("rate", "1 oz per 1,000", "per 1000 of what"),
    ("rate", "0.75 floz/m", "capital letter"),
    ("rate", "2 fl oz/2 gal", "digits out of place"),
    ("rate", "1 fl oz/lb", "not per area"),
    ("rate", "1 acre/gal", "does not begin with an amount of product"),
    ("rate", "20 fl oz", "is an amount"),
    ("rate", "oz/gal", "does not begin with a number"),
    ("rate", "0.75 oz/gal/M", "not known"),
    ("rate", "1 lb ai/acre", "without ai"),
    ("rate", "1 lb/acre", "is a weight"),
    ("dry rate", "1 pt/acre", "is a volume"),
    ("dry rate", "0.5 % v/v", "per cent by volume"),
    ("output", "3 lb/1000 sq ft", "volume of spray per area"),
    ("output", "1 fl oz/gal", "volume of spray per area"),
    ("wind speed", "5-7 mph", "range or a sum"),
    ("wind speed", "less than 5 mph", "not one definite amount"),
    ("wind speed", "7 mph NW", "wind_from"),
    ("wind speed", "7", "bare number"),
    ("wind speed", "light", "does not begin with a number"),
    ("temperature", "71", "bare number"),
    ("temperature", "71 degrees", "degF or degC"),
    ("temperature", "71°", "degF or degC"),
    ("temperature", "70s", "not known"),
    ("temperature", "71,5 F", "comma out of place"),
]


@pytest.mark.parametrize(("what", "text", "echo"), READ)
def test_read(what: str, text: str, echo: str) -> None:
    """The echo is read again as the very same amount."""
    read = READERS[what](text)
    assert str(read) == echo
    assert READERS[what](echo) == read


@pytest.mark.parametrize(("what", "text", "says"), REFUSED)
def test_refused(what: str, text: object, says: str) -> None:
    """One line that names the field, shows the text without control codes, and says what to write."""
    with pytest.raises(QuantityError, match=says) as caught:
        READERS[what](text)
    message = str(caught.value)
    assert message.startswith(what.removeprefix("dry "))
    assert message.isprintable()
    assert len(message) < 250


@pytest.mark.parametrize(
    ("text", "value", "half"),
    [
        ("0.47 fl oz", "0.47", "0.005"),
        ("0.470 fl oz", "0.47", "0.0005"),
        (".5 fl oz", "0.5", "0.05"),
        ("3 fl oz", "3", "0.5"),
        ("1,234.5 fl oz", "1234.5", "0.05"),
        ("2/3 fl oz", "2/3", "0"),
        ("1 1/2 fl oz", "3/2", "0"),
    ],
)
def test_reading(text: str, value: str, half: str) -> None:
    """A decimal stands for whatever would be written so; a fraction of a measuring cup for itself."""
    amount = parse_amount(text, Form.LIQUID)
    assert (amount.value, amount.half) == (Fraction(value), Fraction(half))
    assert (amount.base, amount.base_half) == (Fraction(value), Fraction(half))


def test_ounce_follows_the_form() -> None:
    assert parse_amount("2 oz", Form.LIQUID).unit == "fl oz"
    assert parse_amount("2 oz", Form.DRY).unit == parse_amount("2 oz", Form.GRANULE).unit == "oz wt"
    assert parse_amount("2 oz", Form.UNKNOWN).unit == "oz"
    assert parse_rate("2 oz/acre", Form.UNKNOWN).kind is Kind.OUNCE
    assert settle("%", Form.UNKNOWN) == "%"
    assert settle("lb", Form.UNKNOWN) == "lb"


def test_wrong_kind_is_told_apart_from_unreadable() -> None:
    with pytest.raises(UnitKindError):
        parse_amount("1 lb", Form.LIQUID)
    with pytest.raises(UnitKindError):
        parse_volume("1 lb")


def test_amount_of_a_rate() -> None:
    amount = parse_rate("1.1 fl oz/1000 sq ft", Form.LIQUID).amount(parse_area("4,200 sq ft"))
    assert str(amount) == "4.62 fl oz"
    assert amount.half == Fraction("0.05") * Fraction("4.2") + Fraction("1.1") * Fraction(1, 2000) + Fraction(1, 40000)
    assert str(parse_rate("0.25 % v/v", Form.LIQUID).amount(parse_volume("8.4 gal"))) == "2.688 fl oz"
    assert str(parse_rate("0.9 g/gal", Form.DRY).amount(parse_volume("0.4 gal"))) == "0.36 g"
    # an imported ounce of unknown kind stays one
    assert parse_rate("2 oz/acre", Form.UNKNOWN).amount(parse_area("3 acres")) == Quantity(
        Fraction(6), "oz", Fraction("2.75")
    )


@pytest.mark.parametrize(
    ("rate", "over"), [("1 fl oz/acre", parse_volume("1 gal")), ("1 fl oz/gal", parse_area("1 acre"))]
)
def test_rate_over_the_wrong_thing(rate: str, over: Quantity) -> None:
    with pytest.raises(UnitKindError, match="needs"):
        parse_rate(rate, Form.LIQUID).amount(over)


def test_bases() -> None:
    """Rates printed on one basis share a key; `like` writes a rate the way another one is printed."""
    per_acre, per_thousand = parse_rate("2 pt/A", Form.LIQUID), parse_rate("0.75 oz/M", Form.LIQUID)
    share = parse_rate("0.5 % v/v", Form.LIQUID)
    assert per_acre.basis == parse_rate("9 L/acre", Form.LIQUID).basis == (Per.AREA, "acre")
    assert per_thousand.basis == (Per.AREA, "1000 sq ft")
    assert share.basis == (Per.SPRAY, "%")
    assert share.kind is Kind.VOLUME
    assert (share.base, share.base_half) == (Fraction("0.005"), Fraction("0.0005"))
    assert per_thousand.like(per_acre.base) == "0.734619 fl oz/1000 sq ft"
    assert share.like(Fraction("0.0025")) == "0.25 % v/v"
    assert str(Rate(Fraction(1, 8), "pt", Per.AREA, "acre")) == "0.125 pt/acre"


def test_form_and_kind() -> None:
    assert [form.kind for form in Form] == [Kind.VOLUME, Kind.WEIGHT, Kind.WEIGHT, Kind.OUNCE]
    assert parse_area("1 acre").kind is Kind.AREA
    assert parse_amount("1 gal", Form.LIQUID).to("qt") == 4


@pytest.mark.parametrize(
    ("value", "places", "text"),
    [
        ("0", 6, "0"),
        ("100", 6, "100"),
        ("1/3", 6, "0.333333"),
        ("2/3", 6, "0.666667"),
        ("1/2", 0, "0.5"),
        ("12345", 0, "12345"),
        ("0.0000005", 6, "0.0000005"),  # the plain text of a Decimal would be 5E-7
        ("0.00012345678949", 6, "0.000123457"),
        ("0.0000000005", 6, "0"),  # half-even
        ("0.0000000015", 6, "0.000000002"),
        ("-1/4", 6, "-0.25"),
        ("-0.0000000001", 6, "0"),
        ("123456789012345678901234567890.5", 6, "123456789012345678901234567890.5"),
    ],
)
def test_format_number(value: str, places: int, text: str) -> None:
    assert format_number(Fraction(value), places) == text


@pytest.mark.parametrize(
    ("value", "places", "text"), [("2.5", 0, "2"), ("3.5", 0, "4"), ("0.125", 2, "0.12"), ("-0.4", 0, "0")]
)
def test_half_even(value: str, places: int, text: str) -> None:
    assert format(to_decimal(Fraction(value), places), "f") == text


@pytest.mark.parametrize(
    ("entry", "limit", "over"),
    [
        ("1.1", "1.1", False),
        ("1.10", "1.1", False),
        ("1.104", "1.1", True),  # 1.1035 and up: over, however little
        ("1.1001", "1.1", True),
        ("1.2", "1.1", True),
        ("0.76", "0.75", True),
        ("0.8", "0.75", True),  # 0.75 reads as 0.8, but the benefit ends at 2 % of the limit: 0.785
        ("0.76", "0.755", False),  # 0.755 is what may be written as 0.76
        ("3", "2.6", True),  # 2.5 reads as 3, but 2.948 is the least that counts
        ("51", "50.5", False),
        ("0", "0", False),
        ("1", "0", True),
        ("-10", "-10", False),
        ("-9", "-10", True),
    ],
)
def test_exceeds(entry: str, limit: str, *, over: bool) -> None:
    value, half = Fraction(entry), Fraction(1, 2 * 10 ** len(entry.partition(".")[2]))
    assert exceeds(value - half, value, Fraction(limit)) is over
