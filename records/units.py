"""The one unit registry: our own definitions read by pint, every factor an exact fraction.

`units.txt` holds the definitions with their legal sources. pint reads them with `Fraction` as its number type, so a
conversion never rounds; nothing outside this module sees a pint object. Parsing of user text is not left to pint
(it would do arithmetic on it): `domain/quantities.py` accepts a number and one name from the tables below.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from functools import cache, lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pint


class Kind(StrEnum):
    """What a unit measures."""

    VOLUME = "volume"
    WEIGHT = "weight"
    OUNCE = "ounce"  # an ounce whose kind is not known yet
    AREA = "area"
    LENGTH = "length"
    SPEED = "speed"
    TEMPERATURE = "temperature"


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit as the trade writes it, with its name in the registry."""

    symbol: str
    kind: Kind
    registered: str


_UNITS = (
    Unit("gal", Kind.VOLUME, "gallon"),
    Unit("qt", Kind.VOLUME, "quart"),
    Unit("pt", Kind.VOLUME, "pint"),
    Unit("cup", Kind.VOLUME, "cup"),
    Unit("fl oz", Kind.VOLUME, "fluid_ounce"),
    Unit("tbsp", Kind.VOLUME, "tablespoon"),
    Unit("tsp", Kind.VOLUME, "teaspoon"),
    Unit("L", Kind.VOLUME, "liter"),
    Unit("mL", Kind.VOLUME, "milliliter"),
    Unit("ton", Kind.WEIGHT, "short_ton"),
    Unit("lb", Kind.WEIGHT, "pound"),
    Unit("oz wt", Kind.WEIGHT, "ounce_weight"),
    Unit("kg", Kind.WEIGHT, "kilogram"),
    Unit("g", Kind.WEIGHT, "gram"),
    Unit("mg", Kind.WEIGHT, "milligram"),
    Unit("sq ft", Kind.AREA, "square_foot"),
    Unit("sq yd", Kind.AREA, "square_yard"),
    Unit("1000 sq ft", Kind.AREA, "thousand_square_feet"),
    Unit("acre", Kind.AREA, "acre"),
    Unit("sq m", Kind.AREA, "square_meter"),
    Unit("ha", Kind.AREA, "hectare"),
    Unit("ft", Kind.LENGTH, "foot"),
    Unit("in", Kind.LENGTH, "inch"),
    Unit("yd", Kind.LENGTH, "yard"),
    Unit("m", Kind.LENGTH, "meter"),
    Unit("cm", Kind.LENGTH, "centimeter"),
    Unit("mi", Kind.LENGTH, "mile"),
    Unit("km", Kind.LENGTH, "kilometer"),
    Unit("mph", Kind.SPEED, "mile_per_hour"),
    Unit("km/h", Kind.SPEED, "kilometer_per_hour"),
    Unit("m/s", Kind.SPEED, "meter_per_second"),
    Unit("kn", Kind.SPEED, "knot"),
    Unit("degF", Kind.TEMPERATURE, ""),
    Unit("degC", Kind.TEMPERATURE, ""),
    Unit("oz", Kind.OUNCE, ""),
)
UNITS = {unit.symbol: unit for unit in _UNITS}

# Names as they are typed (compared in lower case, dots and doubled blanks removed) -> symbol.
ALIASES = {
    **{unit.symbol.lower(): unit.symbol for unit in _UNITS},
    **dict.fromkeys(("gallon", "gallons", "gals", "us gal", "us gallon", "us gallons"), "gal"),
    **dict.fromkeys(("quart", "quarts", "qts"), "qt"),
    **dict.fromkeys(("pint", "pints", "pts"), "pt"),
    **dict.fromkeys(("cups",), "cup"),
    **dict.fromkeys(
        ("floz", "fl ounce", "fl ounces", "fluid oz", "fluid ounce", "fluid ounces", "oz fl"),
        "fl oz",
    ),
    **dict.fromkeys(("tablespoon", "tablespoons", "tbs", "tbl", "tbls", "tbsps"), "tbsp"),
    **dict.fromkeys(("teaspoon", "teaspoons", "tsps"), "tsp"),
    **dict.fromkeys(("liter", "liters", "litre", "litres"), "L"),
    **dict.fromkeys(("milliliter", "milliliters", "millilitre", "millilitres", "cc"), "mL"),
    **dict.fromkeys(("tons", "short ton", "short tons"), "ton"),
    **dict.fromkeys(("lbs", "pound", "pounds"), "lb"),
    **dict.fromkeys(
        (
            "wt oz",
            "oz (wt)",
            "oz weight",
            "ounce weight",
            "ounces weight",
            "dry oz",
            "oz dry",
            "weight oz",
            "oz av",
        ),
        "oz wt",
    ),
    **dict.fromkeys(("kilogram", "kilograms", "kgs"), "kg"),
    **dict.fromkeys(("gram", "grams", "gm", "gms"), "g"),
    **dict.fromkeys(("milligram", "milligrams"), "mg"),
    **dict.fromkeys(
        ("sqft", "square feet", "square foot", "square ft", "sq feet", "sq foot", "ft2", "ft^2", "ft²", "sf"),
        "sq ft",
    ),
    **dict.fromkeys(("square yard", "square yards", "sq yds", "yd2", "yd²"), "sq yd"),
    **dict.fromkeys(
        ("1000 sqft", "1000 square feet", "1000 ft2", "1000 ft²", "1000 sf", "1000 square ft", "k sq ft", "msf"),
        "1000 sq ft",
    ),
    **dict.fromkeys(("acres", "ac", "a"), "acre"),
    **dict.fromkeys(
        ("m2", "m^2", "m²", "square meter", "square meters", "square metre", "square metres"),
        "sq m",
    ),
    **dict.fromkeys(("hectare", "hectares"), "ha"),
    **dict.fromkeys(("foot", "feet", "'"), "ft"),
    **dict.fromkeys(("inch", "inches", '"'), "in"),
    **dict.fromkeys(("yard", "yards"), "yd"),
    **dict.fromkeys(("meter", "meters", "metre", "metres"), "m"),
    **dict.fromkeys(("centimeter", "centimeters"), "cm"),
    **dict.fromkeys(("mile", "miles", "statute mile", "statute miles"), "mi"),
    **dict.fromkeys(("kilometer", "kilometers", "kilometre", "kilometres", "kms"), "km"),
    **dict.fromkeys(("mi/h", "mi/hr", "m p h", "miles per hour", "miles/hour", "miles/h"), "mph"),
    **dict.fromkeys(("kmh", "kph", "kmph", "km/hr", "kilometers per hour"), "km/h"),
    **dict.fromkeys(("mps", "m/sec", "meters per second"), "m/s"),
    **dict.fromkeys(("knot", "knots", "kt", "kts"), "kn"),
    **dict.fromkeys(("f", "°f", "deg f", "degrees f", "fahrenheit", "degrees fahrenheit"), "degF"),
    **dict.fromkeys(("° f", "º f", "ºf", "˚f", "˚ f", "℉"), "degF"),  # signs taken for the degree sign
    **dict.fromkeys(("c", "°c", "deg c", "degrees c", "celsius", "degrees celsius"), "degC"),
    **dict.fromkeys(("° c", "º c", "ºc", "˚c", "˚ c", "℃"), "degC"),
    **dict.fromkeys(("ounce", "ounces", "ozs"), "oz"),
}

_BASE = {
    Kind.VOLUME: "fluid_ounce",
    Kind.WEIGHT: "pound",
    Kind.AREA: "square_foot",
    Kind.LENGTH: "foot",
    Kind.SPEED: "mile_per_hour",
}

# The registry's own factors, written down so that a command that closes one visit need not load pint and build the
# registry first (90 of 650 ms); `tests/unit/test_units.py` holds every one of them equal to the registry's.
_FACTORS = {
    "gal": "128",
    "qt": "32",
    "pt": "16",
    "cup": "8",
    "fl oz": "1",
    "tbsp": "1/2",
    "tsp": "1/6",
    "L": "16000000000/473176473",
    "mL": "16000000/473176473",
    "ton": "2000",
    "lb": "1",
    "oz wt": "1/16",
    "kg": "100000000/45359237",
    "g": "100000/45359237",
    "mg": "100/45359237",
    "sq ft": "1",
    "sq yd": "9",
    "1000 sq ft": "1000",
    "acre": "43560",
    "sq m": "1562500/145161",
    "ha": "15625000000/145161",
    "ft": "1",
    "in": "1/12",
    "yd": "3",
    "m": "1250/381",
    "cm": "25/762",
    "mi": "5280",
    "km": "1250000/381",
    "mph": "1",
    "km/h": "15625/25146",
    "m/s": "3125/1397",
    "kn": "57875/50292",
}


@cache
def _registry() -> pint.UnitRegistry[Fraction]:
    import pint

    # No cache folder: reading this small file takes three milliseconds and leaves nothing behind to go stale.
    return pint.UnitRegistry(str(Path(__file__).with_name("units.txt")), non_int_type=Fraction, cache_folder=None)


@lru_cache(maxsize=128)
def factor(symbol: str) -> Fraction:
    """Return how many base units one unit is: fl oz, lb, sq ft, ft or mph by kind; exact.

    Args:
        symbol: a key of `UNITS` with a factor (not a temperature, not an ounce of unknown kind).

    Raises:
        KeyError: the symbol is unknown or has no factor.
    """
    known = _FACTORS.get(symbol)
    return registered_factor(symbol) if known is None else Fraction(known)


def registered_factor(symbol: str) -> Fraction:
    """Return what the registry says `factor` is.

    Raises:
        KeyError: the symbol is unknown or has no factor.
    """
    unit = UNITS[symbol]
    return Fraction(_registry().convert(Fraction(1), unit.registered, _BASE[unit.kind]))


def convert(value: Fraction, source: str, target: str) -> Fraction:
    """Convert a value between two units of one kind; exact.

    Args:
        value: the amount in `source` units.
        source: symbol it is in.
        target: symbol wanted.

    Raises:
        ValueError: the two units measure different things.
    """
    if source == target:
        return value
    kinds = UNITS[source].kind, UNITS[target].kind
    if kinds[0] is not kinds[1]:
        msg = f"{source} measures {kinds[0]}, {target} measures {kinds[1]}"
        raise ValueError(msg)
    if kinds[0] is Kind.TEMPERATURE:
        # By definition of the scales: 0 degC = 32 degF, 5 degC span 9 degF (NIST SP 811, B.8).
        return value * 9 / 5 + 32 if source == "degC" else (value - 32) * 5 / 9
    return value * factor(source) / factor(target)
