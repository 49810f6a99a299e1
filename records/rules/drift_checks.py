"""Where the weather came from, and what it advises about drift: labelled and said, never a stop."""

from __future__ import annotations

from typing import TYPE_CHECKING

from records.domain.atmosphere import Air, advice, read_humidity
from records.domain.findings import Code, Finding, Severity
from records.domain.product import Force
from records.domain.quantities import Form
from records.domain.weather import told_value
from records.rules.label_checks import limits_on, lines
from records.rules.label_match import source_of

if TYPE_CHECKING:
    from collections.abc import Iterator
    from fractions import Fraction

    from records.domain.visit import Visit, Weather
    from records.rules.context import Context

_PARTS = (("wind_speed", "wind"), ("temperature", "temperature"))


def check_station(visit: Visit, _context: Context) -> Iterator[Finding]:
    """Name the values that are a station's; where a label limits the wind at the site, ask."""
    weather = visit.weather
    parts = [
        (name, words, value)
        for name, words in _PARTS
        if (value := getattr(weather, name)) is not None and weather.is_of_station(name)
    ]
    if not parts:
        return
    name, _, first = parts[0]
    told = " and ".join(f"{words} {told_value(str(value))}" for _, words, value in parts)
    message = f"{told}: of {station_words(weather)}, not measured at the site"
    asking = _wind_line(visit) if name == "wind_speed" else None
    if asking is None:
        yield Finding(Code.STATION_WEATHER, Severity.NOTE, f"weather.{name}", message, "", str(first), "")
        return
    product, limit, source = asking
    message += f"; {product} limits the wind to {limit}: measure it there, or confirm"
    yield Finding(Code.STATION_WEATHER, Severity.ASK, f"weather.{name}", message, limit, str(first), source)


def _wind_line(visit: Visit) -> tuple[str, str, str] | None:
    """Return product, limit and source of the first label that must not be put out over a wind."""
    for treatment, line in lines(visit):
        if line.product.label is None:
            continue
        for limits in limits_on(line, treatment):
            if limits.wind is not None and limits.wind.force is Force.MUST:
                return line.product.name, str(limits.wind.value), source_of(line.product)
    return None


def station_words(weather: Weather) -> str:
    """Return which station, and how far."""
    far = "" if weather.distance is None else f", {weather.distance} away"
    return f"station {weather.station}{far}" if weather.station else f"a station{far}"


def check_drift(visit: Visit, _context: Context) -> Iterator[Finding]:
    """Note air in which spray drifts more easily, with who says so."""
    weather = visit.weather
    if not any(
        t.spray is not None or any(one.product.form is Form.LIQUID for one in t.lines) for t in visit.treatments
    ):
        return  # granules do not drift so
    moment = visit.started
    for one in advice(Air(weather.wind_speed, weather.temperature, _percent(weather.humidity), moment)):
        at = f"weather.{one.part}"
        yield Finding(Code.DRIFT_WEATHER, Severity.NOTE, at, one.words, one.limit, one.found, one.source)


def _percent(text: str | None) -> Fraction | None:
    try:
        return read_humidity(text)
    except ValueError:
        return None
