"""Weather at the site: where the wind comes from, and readings that cannot be.

A wind is named after the direction it comes FROM, clockwise from true north, in every trade and law that asks for it
(WMO-No. 8, Guide to Instruments and Methods of Observation, volume I, chapter 5; US Federal Meteorological Handbook
No. 1, chapter 5). A NW wind carries spray to the SE. 16 points, 22.5 degrees each.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache
from itertools import product
from math import floor

from records.domain.numerals import HALF, MAX_NUMBER, QuantityError, clean, shown, split_number
from records.domain.quantities import Quantity, decimal_text, format_number
from records.units import UNITS, convert

CALM = "calm"
VARIABLE = "variable"
POINTS = ("N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE", "S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW")
SECTOR = Fraction(360, len(POINTS))

# The strongest gust ever measured: 113.2 m/s (408 km/h, 253 mph), Barrow Island, Australia, 10 April 1996.
# The hottest air: 134 degF (56.7 degC), Furnace Creek, Death Valley, 10 July 1913. Both: World Meteorological
# Organization, World Weather and Climate Extremes Archive. The coldest in the United States: -79.8 degF, Prospect
# Creek, Alaska, 23 January 1971 (NOAA; from memory).
MOST_WIND = Quantity(Fraction(1132, 10), "m/s")
MOST_HEAT = Fraction(134)
MOST_COLD = Fraction(-80)

# The lowest whole knots of each force from 1 to 12: the Beaufort wind scale as weather services print it.
_FORCES = (1, 4, 7, 11, 17, 22, 28, 34, 41, 48, 56, 64)
_SHOWN_IN = {"kn": "mph", "m/s": "mph", "km/h": "mph", "degC": "degF"}  # what people here think in

_EXAMPLE = "NW, north-northwest, 315 deg, calm or variable (where the wind comes FROM)"
_STEADY = {
    **dict.fromkeys(("calm", "no wind"), CALM),
    **dict.fromkeys(("variable", "var", "vrb", "light and variable"), VARIABLE),
}
_DEGREES = re.compile(r"(?:deg(?:rees?)?\.?|[°º˚])?\s*(?:true)?", re.IGNORECASE)
_TOWARDS = re.compile(r"(?:to|toward|towards|blowing|into|heading|going)\b|.*ward", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Direction:
    """Where the wind comes from: one of the 16 points, `calm` or `variable`; degrees where they were measured."""

    point: str
    degrees: Fraction | None = None

    @property
    def downwind(self) -> str:
        """Return the point that spray would drift towards; empty when calm or variable."""
        if self.point not in POINTS:
            return ""
        return POINTS[(POINTS.index(self.point) + len(POINTS) // 2) % len(POINTS)]

    def __str__(self) -> str:
        """Return the point, with the degrees where there are some; `parse_direction` reads it again."""
        return self.point if self.degrees is None else f"{self.point} ({format_number(self.degrees, MAX_NUMBER)} deg)"


def point_of(degrees: Fraction) -> str:
    """Return the nearest of the 16 points; a bearing between two sectors belongs to the clockwise one.

    Args:
        degrees: clockwise from true north.
    """
    return POINTS[floor(degrees / SECTOR + HALF) % len(POINTS)]


def _names() -> dict[str, str]:
    """Return every way to write the 16 points in letters or words -> the point."""
    words = {"N": ("n", "north"), "E": ("e", "east"), "S": ("s", "south"), "W": ("w", "west")}
    names = {}
    for point in POINTS:
        for spelled in product(*(words[letter] for letter in point)):
            joined = "".join(spelled)
            names[joined] = point
            names[f"{joined}erly"] = point  # a westerly comes from the west
            names[f"{joined}ern"] = point
    return names


_NAMES = _names()


def parse_direction(text: object) -> Direction:
    """Read where the wind comes from: `NW`, `north-west`, `from the NW`, `315`, `315 deg`, `calm`, `variable`.

    Raises:
        QuantityError: no direction, or one that says where the wind blows to.
    """
    if not isinstance(text, str):
        raise QuantityError(f"wind direction is not text; write it like {_EXAMPLE}")
    return _parse_direction(clean(text, "wind direction", _EXAMPLE))


@lru_cache(maxsize=1024)
def _parse_direction(text: str) -> Direction:
    plain = text.lower().rstrip(".")
    if plain in _STEADY:
        return Direction(_STEADY[plain])
    both = re.fullmatch(r"(\S+) \((.*)\)", plain)  # as `Direction` writes itself
    if both:
        point, measured = _parse_direction(both[1]), _parse_direction(both[2])
        if measured.degrees is None or point != Direction(measured.point):
            raise QuantityError(f"wind direction {shown(text)} names two directions; write one, like {_EXAMPLE}")
        return measured
    plain = re.sub(r"\bwinds?\b", " ", plain)
    plain = re.sub(r"^\s*(?:is |was )?(?:coming |blowing )?(?:from|out of)\b(?: the\b)?", " ", plain).strip()
    if re.match(r"[-+−.\d]", plain):
        return _bearing(plain, text)
    point_name = _NAMES.get(re.sub(r"[-\s.]+", "", plain))
    if point_name:
        return Direction(point_name)
    if _TOWARDS.match(plain):
        raise QuantityError(
            f"wind direction {shown(text)} says where the wind blows to; write where it comes FROM" + _turned(plain)
        )
    raise QuantityError(f"wind direction {shown(text)} is none of the 16 points; write it like {_EXAMPLE}")


def _turned(plain: str) -> str:
    """Return how to write a wind that was named after where it blows to; this very wind where it can be read."""
    towards = re.sub(r"\b(?:to|towards?|blowing|into|heading|going|the)\b|wards?$", " ", plain)
    point = _NAMES.get(re.sub(r"[-\s.]+", "", towards))
    if point is None:
        return ", such as SE for a wind that blows to the NW"
    return f": {Direction(point).downwind} for a wind that blows to the {point}"


def _bearing(plain: str, text: str) -> Direction:
    degrees, _, number, rest = split_number(plain, "wind direction", _EXAMPLE)
    if not _DEGREES.fullmatch(rest) or "/" in number:
        raise QuantityError(
            f"wind direction {shown(text)} is not one bearing in degrees from true north; write it like {_EXAMPLE}"
        )
    if degrees > 360:
        raise QuantityError(f"wind direction {shown(text)} is over 360 degrees; write 0 to 360, or a point like NW")
    return Direction(point_of(degrees), degrees)


@lru_cache(maxsize=1024)
def plausible_wind(speed: Quantity) -> str | None:
    """Return what is impossible about a wind speed, or None.

    The reading has the benefit: a record written in whole km/h is still no more than the record.
    """
    lowest = convert(speed.value - speed.half, speed.unit, MOST_WIND.unit)
    if lowest <= MOST_WIND.value:
        return None
    return (
        f"wind speed {speed} is over the strongest gust ever measured, {MOST_WIND} (253 mph); "
        f"check the number and its unit"
    )


@lru_cache(maxsize=1024)
def plausible_temperature(temperature: Quantity) -> str | None:
    """Return what is impossible about an air temperature, or None."""
    ends = (temperature.value - temperature.half, temperature.value + temperature.half)
    low, high = (convert(end, temperature.unit, "degF") for end in ends)
    if low > MOST_HEAT:
        return (
            f"temperature {temperature} is over the hottest air ever measured, 134 degF; check the number and its scale"
        )
    if high < MOST_COLD:
        return (
            f"temperature {temperature} is under -80 degF, colder than the US ever was; check the number and its scale"
        )
    return None


def beaufort(speed: Quantity) -> int:
    """Return the force of a wind on the Beaufort scale; the classes are whole knots, half a knot counts up."""
    knots = floor(speed.to("kn") + HALF)
    return sum(knots >= least for least in _FORCES)


def converted(text: str) -> str:
    """Return a reading of a report in the unit that people here think in; "" where it is in it, or is none."""
    number, _, unit = text.rpartition(" ")
    if unit not in _SHOWN_IN or unit not in UNITS or len(number) > MAX_NUMBER:
        return ""
    try:
        value = Fraction(Decimal(number.replace(",", "")))
    except (ArithmeticError, ValueError):
        return ""
    return f"{decimal_text(convert(value, unit, _SHOWN_IN[unit]), 1)} {_SHOWN_IN[unit]}"


def told_value(text: str) -> str:
    """Return a reading with the unit that people here think in beside it: `15 kn (17.3 mph)`."""
    other = converted(text)
    return f"{text} ({other})" if other else text
