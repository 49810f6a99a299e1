"""Moist air: humidity, wet bulb, Delta T, and what they and the wind advise about drift.

Everything is worked out in decimals of fixed precision, from exact fractions and back to decimals; no binary float
stands beside an amount. Nothing here stops a visit: labels and laws do that elsewhere, this is advice with its source.

- Saturation vapour pressure over water: D. Bolton, "The computation of equivalent potential temperature", Monthly
  Weather Review 108 (1980) 1046-1053, equation 10: 6.112 exp(17.67 T / (T + 243.5)) hPa, T in degC; good to 0.3 % from
  -35 to 35 degC, as the documentation of NCL's satvpr_water_bolton quotes it (secondary; the paper was not seen).
- Psychrometer: e = es(Tw) - 6.60e-4 (1 + 0.00115 Tw) p (T - Tw), American Meteorological Society, Glossary of
  Meteorology, "psychrometric formula" (6.60e-4 seen there, the factor 0.00115 from memory); solved for Tw. The pressure
  is that of the standard atmosphere at sea level unless it is given.
- A cross-check by another road: R. Stull, "Wet-bulb temperature from relative humidity and air temperature", Journal of
  Applied Meteorology and Climatology 50 (2011) 2267-2269: a fit for 5 to 99 % and -20 to 50 degC, off by -1 to +0.65.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal, localcontext
from fractions import Fraction
from functools import lru_cache
from typing import TYPE_CHECKING

from records.domain.numerals import QuantityError, shown
from records.domain.quantities import Quantity
from records.domain.weather import told_value

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import datetime

PRECISION = 28  # digits of every step; what is told has one or two decimals
SEA_LEVEL = Decimal("1013.25")  # hPa, the standard atmosphere
COLDEST, HOTTEST = Decimal(-90), Decimal(70)  # degC; beyond, the formulas say nothing
_STEP = Decimal("0.0001")  # degC that the wet bulb is narrowed down to; it is told to 0.01

# Delta T = dry minus wet bulb, degC. The limits are repeated in many places from the Australian Bureau of Meteorology;
# the Bureau's own chart was not seen (secondary: support.metos.at, Delta T in FieldClimate; peakhydromet.com/delta-t).
# The words for the classes differ between sources; these are ours.
DELTA_SOURCE = "Delta T 2 to 8, not over 10: Australian Bureau of Meteorology, as others repeat it (secondary)"
INVERSION_SOURCE = (
    "pesticidestewardship.org, Evaluate the Weather Conditions (at least 3 mph, below it directions vary and no wind "
    "may mean an inversion); Clemson Extension, drift labeling (under 3 mph: check for an inversion)"
)
LOW_WIND = Quantity(Fraction(3), "mph")
# Two lines that labels of lawn products commonly print; which one binds is on the label itself (common practice).
HIGH_WINDS = (Quantity(Fraction(10), "mph"), Quantity(Fraction(15), "mph"))
HIGH_SOURCE = "common practice: labels commonly print 10 or 15 mph; the label's own line binds"
# Without the sun's own times: hours of the clock at the site in which an inversion may stand; the hours are ours.
# Grains Research and Development Corporation, Spray application manual (2025), module 10.8: from one or two hours
# before sunset to about an hour after sunrise.
MORNING_END, EVENING_START = 9, 17

_HUMIDITY = re.compile(r"(?:rh\s*)?(\d{1,4}(?:\.\d{1,6})?)\s*(?:%|percent|per cent|pct)\s*(?:rh)?", re.IGNORECASE)


class AirError(QuantityError):
    """Values of air that no formula takes."""


def _decimal(value: Fraction | Decimal) -> Decimal:
    if isinstance(value, Decimal):
        return value
    return Decimal(value.numerator) / Decimal(value.denominator)


def _checked(celsius: Fraction | Decimal, what: str) -> Decimal:
    value = _decimal(celsius)
    if not COLDEST <= value <= HOTTEST:
        raise AirError(f"{what} of {value:.1f} degC is outside {COLDEST} to {HOTTEST}, where the formula holds")
    return value


def saturation_pressure(celsius: Fraction | Decimal) -> Decimal:
    """Return the saturation vapour pressure over water, hPa (Bolton 1980).

    Raises:
        AirError: no temperature of air.
    """
    with localcontext(prec=PRECISION):
        return _saturation(_checked(celsius, "a temperature"))


def _saturation(celsius: Decimal) -> Decimal:
    return Decimal("6.112") * (Decimal("17.67") * celsius / (celsius + Decimal("243.5"))).exp()


def humidity_from_dew_point(celsius: Fraction | Decimal, dew_point: Fraction | Decimal) -> Decimal:
    """Return the relative humidity in per cent; a dew point above the air is at most rounding, and reads 100.

    Raises:
        AirError: no temperatures of air, or a dew point more than a degree above the air.
    """
    with localcontext(prec=PRECISION):
        air, dew = _checked(celsius, "a temperature"), _checked(dew_point, "a dew point")
        if dew > air + 1:
            raise AirError(f"a dew point of {dew:.1f} degC above air of {air:.1f} degC cannot be")
        return min(Decimal(100), 100 * _saturation(dew) / _saturation(air))


def dew_point(celsius: Fraction | Decimal, humidity: Fraction | Decimal) -> Decimal:
    """Return the dew point, degC: the temperature whose saturation pressure the vapour has.

    Raises:
        AirError: no temperature of air, or no humidity over 0 to 100 %.
    """
    with localcontext(prec=PRECISION):
        vapour = _saturation(_checked(celsius, "a temperature")) * _share(humidity)
        ratio = (vapour / Decimal("6.112")).ln()
        return Decimal("243.5") * ratio / (Decimal("17.67") - ratio)


def _share(humidity: Fraction | Decimal) -> Decimal:
    value = _decimal(humidity)
    if not 0 < value <= 100:
        raise AirError(f"a humidity of {value:.6g} % is not over 0 and at most 100 %")
    return value / 100


@lru_cache(maxsize=1024)
def wet_bulb(
    celsius: Fraction | Decimal, humidity: Fraction | Decimal, pressure: Fraction | Decimal = SEA_LEVEL
) -> Decimal:
    """Return the wet-bulb temperature, degC: the psychrometer's equation solved to 0.0001, told to 0.01.

    Args:
        celsius: of the air.
        humidity: per cent.
        pressure: of the air, hPa.

    Raises:
        AirError: no air, or a pressure that no place on land has.
    """
    with localcontext(prec=PRECISION):
        air, share, hectopascal = _checked(celsius, "a temperature"), _share(humidity), _decimal(pressure)
        if not 300 <= hectopascal <= 1100:
            raise AirError(f"an air pressure of {hectopascal:.6g} hPa is outside 300 to 1100")
        vapour = _saturation(air) * share

        def excess(wet: Decimal) -> Decimal:
            coefficient = Decimal("0.00066") * (1 + Decimal("0.00115") * wet)
            return _saturation(wet) - coefficient * hectopascal * (air - wet) - vapour

        low, high = COLDEST - 40, air  # the excess grows with the wet bulb: one answer between the two
        while high - low > _STEP:
            middle = (low + high) / 2
            low, high = (low, middle) if excess(middle) > 0 else (middle, high)
        return ((low + high) / 2).quantize(Decimal("0.01"))


def delta_t(
    celsius: Fraction | Decimal, humidity: Fraction | Decimal, pressure: Fraction | Decimal = SEA_LEVEL
) -> Decimal:
    """Return Delta T, dry minus wet bulb, degC, to 0.01.

    Raises:
        AirError: as for `wet_bulb`.
    """
    with localcontext(prec=PRECISION):
        wet = wet_bulb(celsius, humidity, pressure)
        return (_decimal(celsius) - wet).quantize(Decimal("0.01"))


def stull_wet_bulb(celsius: Fraction | Decimal, humidity: Fraction | Decimal) -> Decimal:
    """Return the wet bulb by Stull's fit, degC; only a cross-check of `wet_bulb`.

    Raises:
        AirError: outside 5 to 99 % and -20 to 50 degC, where the fit holds.
    """
    with localcontext(prec=PRECISION):
        air, percent = _decimal(celsius), _decimal(humidity)
        if not (5 <= percent <= 99 and -20 <= air <= 50):
            raise AirError("the fit holds for 5 to 99 % and -20 to 50 degC only")
        return (
            air * _arctan(Decimal("0.151977") * (percent + Decimal("8.313659")).sqrt())
            + _arctan(air + percent)
            - _arctan(percent - Decimal("1.676331"))
            + Decimal("0.00391838") * percent * percent.sqrt() * _arctan(Decimal("0.023101") * percent)
            - Decimal("4.686035")
        )


def _arctan(value: Decimal) -> Decimal:
    """Return the arc tangent in radians: halved until its series is short."""
    halvings = 0
    while abs(value) > Decimal("0.05"):
        value = value / (1 + (1 + value * value).sqrt())
        halvings += 1
    term, total, count = value, value, 1
    doubled = Decimal(2) ** halvings
    while abs(term) > Decimal("1e-26"):
        term = -term * value * value
        count += 2
        total += term / count
    return total * doubled


def read_humidity(text: str | None) -> Fraction | None:
    """Return a relative humidity in per cent out of a typed text; None where it is told in other words.

    Raises:
        AirError: a number of per cent that no air has.
    """
    found = _HUMIDITY.fullmatch(" ".join((text or "").split()))
    if found is None:
        return None
    value = Fraction(Decimal(found[1]))
    if value > 100:
        raise AirError(f"humidity {shown(text or '')} is over 100 %; check the number")
    return value


@dataclass(frozen=True, slots=True)
class DeltaClass:
    """One stretch of Delta T, and what it means for spray."""

    name: str
    words: str


TOO_HUMID = DeltaClass("too humid", "fine drops stay in the air for long, and leaves may be wet")
PREFERRED = DeltaClass("preferred", "drops last as long as they should")
MARGINAL = DeltaClass("marginal", "drops dry quickly; larger ones, or wait for cooler air")
UNSUITABLE = DeltaClass("unsuitable", "drops dry before they reach the leaf and what is left drifts")


def delta_class(delta: Fraction | Decimal) -> DeltaClass:
    """Return the class of a Delta T in degC; it is judged as it is shown, to a tenth."""
    with localcontext(prec=PRECISION):
        told = _decimal(delta).quantize(Decimal("0.1"))
    if told < 2:
        return TOO_HUMID
    if told <= 8:
        return PREFERRED
    return MARGINAL if told <= 10 else UNSUITABLE


@dataclass(frozen=True, slots=True)
class Advice:
    """One thing worth saying about drift: where, what, the range, what was found, who says so."""

    part: str  # of the weather: "humidity", "wind_speed"
    words: str
    limit: str
    found: str
    source: str


@dataclass(frozen=True, slots=True)
class Air:
    """What the advice is drawn from; parts that are not known are None."""

    wind: Quantity | None = None
    temperature: Quantity | None = None
    humidity: Fraction | None = None
    local: datetime | None = None  # at the site
    is_clear: bool | None = None

    @property
    def delta(self) -> Decimal | None:
        """Return Delta T; None where a part lacks or no formula takes it."""
        if self.temperature is None or self.humidity is None:
            return None
        try:
            return delta_t(self.temperature.to("degC"), self.humidity)
        except AirError:
            return None


def advice(air: Air) -> Iterator[Advice]:
    """Yield what lies outside the preferred ranges; nothing where all is well or not known."""
    delta = air.delta
    if delta is not None and (found := delta_class(delta)) is not PREFERRED:
        told = f"{delta.quantize(Decimal('0.1'))} degC"
        yield Advice("humidity", f"Delta T {told}, {found.name}: {found.words}", "2 to 8 degC", told, DELTA_SOURCE)
    if air.wind is None or air.wind.to("mph") >= LOW_WIND.value:
        return
    calm = "no wind" if air.wind.value == 0 else f"wind {air.wind} is under {LOW_WIND}"
    if is_inversion_hour(air.local) and air.is_clear is not False:
        sky = "under a clear sky, " if air.is_clear else ""
        why = f"{sky}early or late in the day: an inversion may hold fine drops near the ground; look at smoke or dust"
    else:
        why = "it turns as it likes, and may mean an inversion; look at smoke or dust"
    yield Advice("wind_speed", f"{calm}, {why}", f"at least {LOW_WIND}", str(air.wind), INVERSION_SOURCE)


def high_wind(wind: Quantity | None, gust: Quantity | None = None) -> Iterator[Advice]:
    """Yield that a wind, or its gusts, are over the lines that labels commonly print; nothing below them.

    It is for looking ahead of a visit: when the visit is closed, the lines of its labels themselves are compared.
    """
    for one, words in ((wind, "wind"), (gust, "gusts of")):
        over = [line for line in HIGH_WINDS if one is not None and one.to("mph") > line.value]
        if one is None or not over:
            continue
        told = f"{words} {told_value(str(one))} {'is' if words == 'wind' else 'are'} over {over[-1]}"
        rest = "where some labels stop: look at the label"
        if over[-1] is HIGH_WINDS[-1]:
            rest = "where labels commonly stop: wait, unless the label says otherwise"
        part = "wind_speed" if words == "wind" else "wind_gust"
        yield Advice(part, f"{told}, {rest}", f"at most {HIGH_WINDS[0]}", str(one), HIGH_SOURCE)
        return  # gusts over a wind that is too strong add nothing


def is_inversion_hour(local: datetime | None) -> bool:
    """Tell whether a local time is near dawn or evening, by the clock."""
    return local is not None and (local.hour < MORNING_END or local.hour >= EVENING_START)
