"""Reads the weather of an entry: what was measured at the site, what a station reported, and which of the two counts.

A meter at the site wins. What a station reported stands in for what was not measured, under the station's name; beside
a meter's reading it is kept as a second source. Values that no weather has are refused.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from fractions import Fraction
from typing import TYPE_CHECKING

from records.domain.atmosphere import read_humidity
from records.domain.findings import Code, Severity
from records.domain.quantities import Quantity, parse_length, parse_speed, parse_temperature
from records.domain.visit import StationReading, Weather
from records.domain.weather import Direction, parse_direction, plausible_temperature, plausible_wind, told_value
from records.services.closing.entry import shown

if TYPE_CHECKING:
    from collections.abc import Iterator
    from typing import Any
    from zoneinfo import ZoneInfo

    from records.services.closing.entry import Reader
    from records.services.metar import MetarReading

WEATHER_KEYS = (
    "wind_speed",
    "wind_from",
    "wind_gust",
    "temperature",
    "humidity",
    "measured_at",
    "source",
    "not_measured",
    "metar",
    "station",
    "distance",
)
MEASURED = ("wind_speed", "wind_from", "temperature")
STATION = "station"
_FARTHEST = Quantity(Fraction(12_450), "mi")  # half way round the earth
# How far a typed value may lie from the report that it is said to come from: rounding of one unit into another.
_NEAR_WIND, _NEAR_WARMTH, _NEAR_DEGREES, _NEAR_HUMIDITY = Fraction(1), Fraction(1), Fraction(45), Fraction(3)
# How far a meter at the site may lie from a station, before a slip of the point or of the scale is asked about:
# common practice, there is no published line.
_FAR_WIND, _FAR_WARMTH = Fraction(10), Fraction(15)


@dataclass(slots=True)
class _Typed:
    """What the entry itself says was measured."""

    speed: Quantity | None
    direction: Direction | None
    gust: Quantity | None
    temperature: Quantity | None
    humidity: str | None
    measured_at: datetime | None


def read_weather(value: object, reader: Reader, zone: ZoneInfo, started: datetime | None) -> Weather:
    """Read the weather of an entry.

    Args:
        value: the group as typed.
        reader: where findings go.
        zone: of the site.
        started: when the visit began; a METAR's day is looked for near it.
    """
    values = reader.group(value, "weather", WEATHER_KEYS, "the weather")
    reasons = dict(_reasons(values, reader))
    typed = _typed(values, reasons, reader, zone)
    source = reader.text(values.get("source"), "weather.source", "the source of the weather") or None
    station = reader.text(values.get("station"), "weather.station", "the station", longest=60) or None
    distance = reader.quantity(parse_length, values.get("distance"), "weather.distance")
    if distance is not None and distance.base > _FARTHEST.base:
        reader.not_understood("weather.distance", f"{distance} is farther than any station can be", str(distance))
        distance = None
    report = _report(values, typed, reader, started)
    if report is not None and station and not _is_same_station(station, report.station):
        message = f"station {station} is named, but the METAR is of {report.station}; name the one it came from"
        reader.stop(Code.DISAGREE, "weather.station", message, shown(station))
    beside: StationReading | None = None
    filled: tuple[str, ...] = ()
    if report is not None:
        station = station or report.station
        beside, filled, source = _join(typed, report, source, reader, zone)
    _check_calm(typed, reader)
    return Weather(
        wind_speed=typed.speed,
        wind_from=None if typed.direction is None else str(typed.direction),
        wind_gust=typed.gust,
        temperature=typed.temperature,
        humidity=typed.humidity,
        measured_at=typed.measured_at,
        source=source or (STATION if station else None),
        not_measured=tuple(reasons.items()),
        metar=None if report is None else report.text,
        station=station,
        distance=distance,
        filled=filled,
        beside=beside,
    )


def _reasons(values: dict[str, Any], reader: Reader) -> Iterator[tuple[str, str]]:
    """Yield why something was not measured; it may stand in the place of the value or in a group of its own."""
    stated = reader.group(values.get("not_measured"), "weather.not_measured", MEASURED, "what was not measured")
    for name in MEASURED:
        part = values.get(name)
        if isinstance(part, dict):
            inner = reader.group(part, f"weather.{name}", ("not_measured",), name)
            reason = reader.text(inner.get("not_measured"), f"weather.{name}.not_measured", "the reason")
        else:
            reason = reader.text(stated.get(name), f"weather.not_measured.{name}", "the reason")
        if reason:
            yield name, reason


def _typed(values: dict[str, Any], reasons: dict[str, str], reader: Reader, zone: ZoneInfo) -> _Typed:
    def given(name: str) -> object:
        part = values.get(name)
        return None if isinstance(part, dict) else part

    speed = _wind(reader, given("wind_speed"), "wind_speed")
    direction = reader.quantity(parse_direction, given("wind_from"), "weather.wind_from")
    gust = _wind(reader, values.get("wind_gust"), "wind_gust")
    temperature = reader.quantity(parse_temperature, given("temperature"), "weather.temperature")
    if temperature is not None and (message := plausible_temperature(temperature)):
        reader.not_understood("weather.temperature", message, str(temperature))
        temperature = None
    if (
        speed is not None
        and speed.value == 0
        and direction is None
        and "wind_from" not in reasons
        and not given("wind_from")
    ):
        # No air moves, so there is no direction to write: this says the same thing, not a default.
        direction = parse_direction("calm")
    if gust is not None and speed is not None and gust.base + gust.base_half < speed.base_low:
        message = f"a gust of {gust} is under the wind of {speed}; a gust is stronger"
        reader.stop(Code.DISAGREE, "weather.wind_gust", message, str(gust))
    humidity = reader.text(values.get("humidity"), "weather.humidity", "humidity") or None
    reader.quantity(lambda text: read_humidity(str(text)), humidity, "weather.humidity")
    measured = reader.moment(values.get("measured_at"), "weather.measured_at", "the time of measuring", zone)
    return _Typed(speed, direction, gust, temperature, humidity, measured)


def _wind(reader: Reader, value: object, name: str) -> Quantity | None:
    speed = reader.quantity(parse_speed, value, f"weather.{name}")
    if speed is not None and (message := plausible_wind(speed)):
        reader.not_understood(f"weather.{name}", message, str(speed))
        return None
    return speed


def _check_calm(typed: _Typed, reader: Reader) -> None:
    speed, direction = typed.speed, typed.direction
    if speed is not None and direction is not None and (direction.point == "calm") != (speed.value == 0):
        reader.stop(
            Code.DISAGREE,
            "weather.wind_from",
            f"wind from {direction} at {speed}: calm goes with 0 mph and only with it; write one or the other",
            f"{speed}, {direction}",
        )


def _report(values: dict[str, Any], typed: _Typed, reader: Reader, started: datetime | None) -> MetarReading | None:
    """Return the decoded METAR of an entry; None where there is none, or no day to place it on."""
    text = values.get("metar")
    if text is None or text == "":
        return None
    from records.services.metar import decode  # noqa: PLC0415 - loads a library that few visits need

    near = started or typed.measured_at
    if near is None:
        reader.unresolved += [f"weather.{name}" for name in (*MEASURED, "metar")]
        return None
    report = reader.quantity(lambda one: decode(one, near), text, "weather.metar")
    if report is None:
        reader.unresolved += [f"weather.{name}" for name in MEASURED if values.get(name) is None]
    return report


def _is_same_station(typed: str, reported: str) -> bool:
    """Tell whether a station as typed is that of a report: EWR and KEWR are one airport."""
    words = typed.upper().replace(",", " ").replace("(", " ").replace(")", " ").split()
    one_word = len(words) == 1 and len(words[0]) in {3, 4}
    return not one_word or words[0] in {reported, reported[1:]}  # a name in words says nothing against it


def _join(
    typed: _Typed, report: MetarReading, source: str | None, reader: Reader, zone: ZoneInfo
) -> tuple[StationReading | None, tuple[str, ...], str]:
    """Fill what was not measured from a report; return what is kept beside, what was filled, and the source."""
    is_theirs = source is None or source.casefold().startswith(STATION)
    told = list(_contradictions(typed, report) if is_theirs else _far(typed, report))
    for name, found, says in told:
        if is_theirs:
            hint = "correct it, or write the source (meter) where it was measured at the site"
            reader.stop(
                Code.DISAGREE, f"weather.{name}", f"{found} is typed, the METAR says {told_value(says)}; {hint}", found
            )
        else:
            message = f"{found} by {shown(source)}, {told_value(says)} at {report.station}: far apart; look at the unit"
            place, practice = f"weather.{name}", "common practice"
            reader.add(Code.DISAGREE, Severity.ASK, place, message, limit=says, found=found, source=practice)
    has_any = any(one is not None for one in (typed.speed, typed.direction, typed.temperature))
    filled = tuple(_fill(typed, report))
    at = report.at.astimezone(zone)
    if is_theirs or not has_any:
        if typed.measured_at is None or typed.measured_at.astimezone(UTC) != report.at:
            if typed.measured_at is not None and is_theirs:
                message = f"measured at {typed.measured_at:%Y-%m-%d %H:%M}, but the METAR is of {at:%Y-%m-%d %H:%M}"
                reader.stop(Code.DISAGREE, "weather.measured_at", f"{message}; leave it out, or correct it")
            typed.measured_at = at
        return None, (), source if is_theirs and source else STATION
    beside = StationReading(
        wind_speed=report.wind_speed,
        wind_from=None if report.wind_from is None else str(report.wind_from),
        wind_gust=report.wind_gust,
        temperature=report.temperature,
        humidity=report.humidity_text,
        measured_at=at,
    )
    return beside, filled, source or STATION


def _fill(typed: _Typed, report: MetarReading) -> Iterator[str]:
    """Put what a report says where nothing was measured; yield which parts."""
    if typed.speed is None and report.wind_speed is not None and typed.direction is None:
        typed.speed, typed.direction, typed.gust = report.wind_speed, report.wind_from, report.wind_gust
        yield from ("wind_speed", "wind_from", *(["wind_gust"] if report.wind_gust else []))
    elif typed.speed is None and report.wind_speed is not None:
        typed.speed = report.wind_speed
        yield "wind_speed"
    elif typed.direction is None and report.wind_from is not None and _blows(typed, report):
        typed.direction = report.wind_from
        yield "wind_from"
    if typed.temperature is None and report.temperature is not None:
        typed.temperature = report.temperature
        yield "temperature"
        if typed.humidity is None and report.humidity_text is not None:
            typed.humidity = report.humidity_text
            yield "humidity"
    elif typed.humidity is None and report.humidity_text is not None:
        typed.humidity = report.humidity_text
        yield "humidity"


def _blows(typed: _Typed, report: MetarReading) -> bool:
    """Tell whether a wind that was measured can take its direction from a report."""
    return bool(typed.speed and typed.speed.value and report.wind_from and report.wind_from.point != "calm")


def _apart(one: Quantity | None, other: Quantity | None, unit: str) -> Fraction:
    """Return how far two readings lie apart beyond their own rounding; 0 where one lacks."""
    if one is None or other is None:
        return Fraction(0)
    return abs(one.to(unit) - other.to(unit))


def _contradictions(typed: _Typed, report: MetarReading) -> Iterator[tuple[str, str, str]]:
    """Yield what was typed from a report and is not in it: which part, as typed, as reported."""
    pairs = (
        ("wind_speed", typed.speed, report.wind_speed, "mph", _NEAR_WIND),
        ("wind_gust", typed.gust, report.wind_gust, "mph", _NEAR_WIND),
        ("temperature", typed.temperature, report.temperature, "degF", _NEAR_WARMTH),
    )
    for name, one, other, unit, near in pairs:
        if _apart(one, other, unit) > near:
            yield name, str(one), str(other)
    turned = _turn(typed.direction, report.wind_from)
    if turned is not None and turned > _NEAR_DEGREES:
        yield "wind_from", str(typed.direction), str(report.wind_from)
    percent = read_humidity_safely(typed.humidity)
    if percent is not None and report.humidity is not None and abs(percent - report.humidity) > _NEAR_HUMIDITY:
        yield "humidity", str(typed.humidity), str(report.humidity_text)


def _turn(one: Direction | None, other: Direction | None) -> Fraction | None:
    """Return the angle between two directions; None where one has none to compare."""
    from records.domain.weather import POINTS, SECTOR  # noqa: PLC0415 - kept beside its only use

    if one is None or other is None or one.point not in POINTS or other.point not in POINTS:
        return None
    first, second = (
        direction.degrees if direction.degrees is not None else POINTS.index(direction.point) * SECTOR
        for direction in (one, other)
    )
    turned = abs(first - second) % 360
    return min(turned, 360 - turned)


def read_humidity_safely(text: str | None) -> Fraction | None:
    """Return a humidity in per cent; None where it is told in other words or cannot be."""
    try:
        return read_humidity(text)
    except ValueError:
        return None


def _far(typed: _Typed, report: MetarReading) -> Iterator[tuple[str, str, str]]:
    """Yield what was measured at the site and lies very far from what the station reports."""
    if _apart(typed.speed, report.wind_speed, "mph") > _FAR_WIND:
        yield "wind_speed", f"wind {typed.speed}", str(report.wind_speed)
    if _apart(typed.temperature, report.temperature, "degF") > _FAR_WARMTH:
        yield "temperature", f"temperature {typed.temperature}", str(report.temperature)
