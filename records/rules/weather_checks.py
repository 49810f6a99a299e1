"""Wind and heat against the label lines, and how old the reading is."""

from __future__ import annotations

from datetime import timedelta
from fractions import Fraction
from typing import TYPE_CHECKING

from records.domain.findings import Code, Finding, Severity
from records.domain.product import Force, LimitLine, Product
from records.domain.quantities import Quantity, exceeds
from records.domain.visit import utc
from records.domain.weather import told_value
from records.rules.label_checks import limits_on, lines
from records.rules.label_match import source_of
from records.units import factor

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import datetime

    from records.domain.visit import Visit
    from records.rules.context import Context

# Common practice: labels for lawns stop at 10 to 15 mph, and weeds take up nothing in hard frost or in such heat.
GALE = Quantity(Fraction(25), "mph")
FROST = Quantity(Fraction(20), "degF")
HEAT = Quantity(Fraction(110), "degF")
STALE = timedelta(minutes=60)  # common practice: weather older than an hour is measured again


def check_weather(visit: Visit, _context: Context) -> Iterator[Finding]:
    """Say where wind or temperature was over a label line; at the line itself is within it."""
    told: set[tuple[str, str, LimitLine[Quantity]]] = set()
    for treatment, line in lines(visit):
        if line.product.label is None:
            continue
        for limits in limits_on(line, treatment):
            for code, limit, value, name, words in (
                (Code.OVER_WIND, limits.wind, visit.weather.wind_speed, "wind_speed", "wind"),
                (Code.OVER_TEMPERATURE, limits.temperature, visit.weather.temperature, "temperature", "temperature"),
            ):
                if limit is None or (code, line.product.id, limit) in told:
                    continue
                told.add((code, line.product.id, limit))
                yield from _judge(code, line.product, limit, value, f"weather.{name}", words, visit)
                if code is Code.OVER_WIND:
                    yield from _gust(line.product, limit, visit)


def check_weather_likely(visit: Visit, _context: Context) -> Iterator[Finding]:
    """Ask about a reading in which nobody treats a lawn: 60 mph is 6 mph with a slipped decimal point."""
    for value, name, words, least, most in (
        (visit.weather.wind_speed, "wind_speed", "wind", None, GALE),
        (visit.weather.temperature, "temperature", "temperature", FROST, HEAT),
    ):
        if value is None:
            continue
        is_high = value.to(most.unit) > most.value
        if not is_high and (least is None or value.to(least.unit) >= least.value):
            continue
        limit = most if is_high or least is None else least
        message = f"{words} {value} is {'over' if is_high else 'under'} {limit}; look at the decimal point and the unit"
        yield Finding(
            Code.UNLIKELY_AMOUNT, Severity.ASK, f"weather.{name}", message, str(limit), str(value), "common practice"
        )


def _judge(
    code: Code, product: Product, limit: LimitLine[Quantity], value: Quantity | None, at: str, words: str, visit: Visit
) -> Iterator[Finding]:
    if value is None:
        if dict(visit.weather.not_measured).get(at.partition(".")[2]):
            message = f"{product.name} has a {words} limit of {limit.value}, and the {words} was not measured"
            yield Finding(Code.NOT_CHECKABLE, Severity.ASK, at, message, str(limit.value), "", source_of(product))
        return
    if not is_over(value, limit.value):
        return
    must = limit.force is Force.MUST
    quoted = f": {limit.text}" if limit.text else ""
    message = f"{product.name}: {words} {told_value(str(value))} is over the label's {limit.value}{quoted}"
    yield Finding(
        code, Severity.STOP if must else Severity.NOTE, at, message, str(limit.value), str(value), source_of(product)
    )


def _gust(product: Product, limit: LimitLine[Quantity], visit: Visit) -> Iterator[Finding]:
    """Say that a gust was over a label line which the steady wind kept: labels print the wind, not its gusts."""
    gust, wind = visit.weather.wind_gust, visit.weather.wind_speed
    if gust is None or not is_over(gust, limit.value) or (wind is not None and is_over(wind, limit.value)):
        return
    steady = "" if wind is None else f", the steady wind of {told_value(str(wind))} is not"
    message = (
        f"{product.name}: gusts of {told_value(str(gust))} are over the label's wind line of {limit.value}{steady}"
    )
    yield Finding(
        Code.OVER_WIND, Severity.NOTE, "weather.wind_gust", message, str(limit.value), str(gust), source_of(product)
    )


def is_over(value: Quantity, limit: Quantity) -> bool:
    """Tell whether a reading passes a limit; at the limit itself it does not."""
    high, top = value.to(limit.unit), limit.value
    return high > top and exceeds(high - _half(value, limit.unit), high, top)


def _half(value: Quantity, unit: str) -> Fraction:
    """Return the half-width of a reading in another unit; a span of degrees has no offset."""
    if value.unit in {"degF", "degC"}:
        return value.half * {"degC": 9, "degF": 5}[value.unit] / {"degC": 9, "degF": 5}[unit]
    return value.half * factor(value.unit) / factor(unit)


def _span(minutes: int) -> str:
    """Write a time as people say it: minutes, from two hours on hours, from two days on days."""
    hours, rest = divmod(minutes, 60)
    if hours < 2:
        return f"{minutes} minutes"
    if hours >= 48:
        return f"{hours // 24} days"
    return f"{hours} hours" + (f" {rest} minutes" if rest else "")


def check_weather_age(visit: Visit, _context: Context) -> Iterator[Finding]:
    """Ask again when the weather was measured more than an hour before the start, or after the end."""
    weather = visit.weather
    yield from _aged(visit, weather.measured_at, "weather.measured_at", "the weather was measured")
    if weather.beside is not None and weather.filled:
        yield from _aged(visit, weather.beside.measured_at, "weather.metar", "the station reported")


def _aged(visit: Visit, moment: datetime | None, at: str, words: str) -> Iterator[Finding]:
    measured, started, finished = map(utc, (moment, visit.started, visit.finished))
    if measured is None or started is None:
        return
    before, after = started - measured, measured - (finished or started)
    age = max(before, after)
    if age <= STALE:
        return
    minutes = -int(-age.total_seconds() // 60)  # a minute begun is counted: 60 minutes are within
    when = f"{_span(minutes)} {'before the start' if before > after else 'after the end'}"
    yield Finding(
        Code.WEATHER_AGED,
        Severity.ASK,
        at,
        f"{words} {when}; measure again at the site, or confirm that it still stood",
        limit="60 minutes",
        found=f"{minutes} minutes",
        source="common practice",
    )
