"""Published values about weather, each with its source in weather.json.

`expected` is what the page prints and holds within the page's own rounding; `recomputed` is the exact value, worked out
apart from this project, and has to be met to its last digit. Where a page errs, the tool differs from it.
"""

from __future__ import annotations

import json
import re
from datetime import UTC, datetime
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

import pytest

from records.domain.atmosphere import (
    delta_class,
    delta_t,
    humidity_from_dew_point,
    saturation_pressure,
    stull_wet_bulb,
    wet_bulb,
)
from records.domain.quantities import parse_speed, parse_temperature
from records.domain.weather import CALM, POINTS, SECTOR, beaufort, parse_direction, point_of
from records.services.metar import MetarReading, decode
from records.units import convert, factor

if TYPE_CHECKING:
    from collections.abc import Callable

Example = dict[str, Any]
EXAMPLES: list[Example] = json.loads(Path(__file__).with_name("weather.json").read_text("utf-8"))["examples"]
NEAR = datetime(2013, 5, 10, 12, tzinfo=UTC)


def _given(example: Example, name: str) -> str:
    return str(example["inputs"][name]["value"])


def _printed(example: Example, name: str) -> str:
    return str(example["expected"][name]["value"])


def _exact(example: Example, name: str = "") -> Fraction:
    """Return a recomputed number, by its name where there are several."""
    found = re.search(rf"{name}=?(-?[\d.]+\d|\d)" if name else r"^(-?[\d.]+)$", example["recomputed"])
    assert found, example["recomputed"]
    return Fraction(found[1])


def _step(text: str) -> Fraction:
    """Return half of the last digit of a number as written."""
    return Fraction(1, 2) / Fraction(10 ** len(text.partition(".")[2]))


def _close(value: Fraction, text: str, slack: Fraction = Fraction(0)) -> bool:
    return abs(value - Fraction(text)) <= _step(text) + slack


def _is(value: Fraction, exact: Fraction, places: int = 8) -> bool:
    return abs(value - exact) <= Fraction(1, 2 * 10**places)


def compass(example: Example) -> None:
    point = _given(example, "point")
    degrees = Fraction(_printed(example, "degrees"))
    low, high = Fraction(_printed(example, "sector_from")), Fraction(_printed(example, "sector_to"))
    assert POINTS.index(point) == _exact(example, "index")
    assert POINTS.index(point) * SECTOR == degrees == _exact(example, "degrees")
    assert point_of(degrees) == point_of(low) == point
    assert point_of(high) == POINTS[(POINTS.index(point) + 1) % 16]  # the upper end is the next sector's
    assert high - low == SECTOR
    assert low == _exact(example, "low")


def degrees_to_point(example: Example) -> None:
    name = "point" if "point" in example["expected"] else "from"
    assert parse_direction(_given(example, "degrees")).point == _printed(example, name) == example["recomputed"]


def unit(example: Example) -> None:
    """One unit in another; a nautical mile by the knot, which is one in an hour."""
    (given,), (printed,) = example["inputs"].values(), example["expected"].values()
    symbols = {"kt": "kn", "nautical mile": "kn", "statute mile": "mph"}
    source, target = (symbols.get(one["unit"], one["unit"]) for one in (given, printed))
    value = convert(Fraction(given["value"]), source, target)
    assert _close(value, printed["value"])
    assert _is(value, _exact(example))
    assert value == factor(source) / factor(target)


def knots(example: Example) -> None:
    value = parse_speed(f"{_given(example, 'speed')} kt").to("mph")
    assert _close(value, _printed(example, "speed"), Fraction(5, 1000))
    assert _is(value, _exact(example))


def thumb(example: Example) -> None:
    """1.15 mph to the knot is 0.068 % low."""
    value, printed = parse_speed(f"{_given(example, 'speed')} kn").to("mph"), Fraction(_printed(example, "speed"))
    assert printed == Fraction("1.15") * Fraction(_given(example, "speed"))
    assert abs(printed - value) / value <= Fraction(7, 10_000)
    assert printed < value
    assert _is(value, _exact(example), 6)


def wrong_label(example: Example) -> None:
    """The page heads 1.15 "miles per hour to knots": the tool divides where the label says to multiply."""
    mph = _given(example, "speed")
    value = parse_speed(f"{mph} mph").to("kn")
    assert abs(value - Fraction(_printed(example, "speed"))) <= Fraction(2, 100)
    assert _is(value, _exact(example), 5)
    assert abs(value - Fraction(mph) * Fraction("1.15")) > 6  # what the label says


def celsius(example: Example) -> None:
    value = parse_temperature(f"{_given(example, 'temp')} degF").to("degC")
    assert value == Fraction(_printed(example, "temp")) == _exact(example)


def rounded_celsius(example: Example) -> None:
    value = parse_temperature(f"{_given(example, 'temp')} degF").to("degC")
    assert _close(value, _printed(example, "temp"))
    assert _is(value, _exact(example), 4)
    back = parse_temperature(f"{_printed(example, 'temp')} degC").to("degF")
    assert abs(back - Fraction(_given(example, "temp"))) <= Fraction(9, 10)  # a round trip moves it


def virginia(example: Example) -> None:
    value = parse_temperature(f"{_given(example, 'temp')} degF").to("degC")
    assert _close(value, _printed(example, "temp"))
    assert _is(value, _exact(example), 6)
    assert parse_direction(_given(example, "direction")).point == _given(example, "direction")
    assert parse_speed(f"{_given(example, 'wind')} mph").value == 3  # not under 3 mph: no caution


def towards(example: Example) -> None:
    point = parse_direction(_given(example, "wind_from"))
    assert point.degrees is not None
    opposite = (point.degrees + 180) % 360
    assert opposite == _exact(example)
    printed = _printed(example, "towards" if "towards" in example["expected"] else "drift_towards")
    assert f"{opposite}" in printed.split(" or ")  # 0 and 360 are one direction; the page gives both
    assert point.downwind == point_of(opposite)
    if "drift_point" in example["expected"]:
        assert point.downwind == _printed(example, "drift_point")


def pressure(example: Example) -> None:
    air = parse_temperature(f"{_given(example, 'temp')} degF").to("degC")
    value = Fraction(saturation_pressure(air))
    assert abs(value - Fraction(_printed(example, "e_s"))) <= Fraction(1, 10)
    assert _is(value, _exact(example), 4)


def humidity(example: Example) -> None:
    air, dew = (parse_temperature(f"{_given(example, name)} degF").to("degC") for name in ("temp", "dew_point"))
    value = Fraction(humidity_from_dew_point(air, dew))
    assert abs(value - Fraction(_printed(example, "rh"))) <= 1
    assert _is(value, _exact(example, "from_magnus"), 3)


def stull(example: Example) -> None:
    air, percent = Fraction(_given(example, "temp")), Fraction(_given(example, "rh"))
    fit = Fraction(stull_wet_bulb(air, percent))
    assert _close(fit, _printed(example, "wet_bulb"))
    assert _close(air - fit, _printed(example, "delta_t"))
    assert _is(fit, _exact(example, "stull"), 4)
    assert _is(Fraction(wet_bulb(air, percent)), _exact(example, "psychrometer_1013.25hPa"), 2)


def delta(example: Example) -> None:
    air, percent = Fraction(_given(example, "temp")), Fraction(_given(example, "rh"))
    fit = air - Fraction(stull_wet_bulb(air, percent))
    assert _close(fit, _printed(example, "delta_t"))
    assert _is(fit, _exact(example, "delta_t_stull"), 4)
    solved = Fraction(delta_t(air, percent))
    assert _is(solved, _exact(example, "delta_t_psychrometer"), 2)
    assert abs(solved - Fraction(_printed(example, "delta_t"))) <= Fraction(1, 2)


def classes(example: Example) -> None:
    """The words differ between sources: too humid, suitable, marginal and unsuitable are the page's."""
    ours = {"caution, too humid": "too humid", "suitable": "preferred"}
    for text, printed in example["expected"].items():
        assert delta_class(Decimal(text)).name == ours.get(printed["value"], printed["value"])


def _class(text: str) -> list[Fraction]:
    """Return the ends of a printed class that are whole numbers in it."""
    if text.startswith("<"):
        return [Fraction(0)]
    return [Fraction(one) for one in re.findall(r"\d+", text)]


def force(example: Example) -> None:
    number = int(_given(example, "beaufort"))
    for name, symbol in (("knots", "kn"), ("mph", "mph")):
        for end in _class(_printed(example, name)):
            told = beaufort(parse_speed(f"{end} {symbol}"))
            is_trap = (number, name, str(end)) == (12, "mph", "73")  # 73 mph are 63.4 knots, which force 11 holds
            assert told == (11 if is_trap else number)
    assert beaufort(parse_speed("74 mph")) == 12
    middle = Decimal("0.836") * (Decimal(number) ** Decimal("1.5"))
    assert abs(convert(Fraction(middle), "m/s", "mph") - _exact(example, "mid_mph_from_0.836B\\^1.5")) < Fraction(
        1, 100
    )
    assert abs(convert(Fraction(middle), "m/s", "kn") - _exact(example, "mid_knots")) < Fraction(1, 100)
    assert beaufort(parse_speed(f"{middle:.3f} m/s")) == number


def gap(example: Example) -> None:
    """Whole numbers leave gaps; ours are those of whole knots, half a knot counts up."""
    for part, name, ours in (("a", "speed_a", 1), ("b", "speed_b", 3)):
        speed = parse_speed(f"{_given(example, name)} mph")
        assert _is(speed.to("kn"), _exact(example, f"{part}_kt"), 4)
        assert beaufort(speed) == ours
        assert str(ours) in _printed(example, f"{part}_class")


def _report(example: Example, **changes: str) -> MetarReading:
    (given,) = example["inputs"].values()
    text = given["value"]
    for before, after in changes.items():
        text = text.replace(before, after)
    return decode(text, NEAR)


def _temperatures(report: MetarReading) -> tuple[Fraction, Fraction]:
    assert report.temperature is not None
    assert report.dew_point is not None
    return report.temperature.to("degF"), report.dew_point.to("degF")


def _wind(report: MetarReading, example: Example) -> None:
    assert report.wind_from is not None
    assert report.wind_speed is not None
    assert report.wind_from.degrees == Fraction(_printed(example, "wind_from"))
    assert report.wind_speed.to("kn") == Fraction(_printed(example, "wind"))


def kpit(example: Example) -> None:
    report = _report(example)
    assert (report.station, report.at.day, f"{report.at:%H:%M}") == ("KPIT", 9, _printed(example, "time_utc"))
    _wind(report, example)
    assert report.wind_gust is not None
    assert report.wind_gust.to("kn") == Fraction(_printed(example, "gust"))
    assert report.temperature is not None
    assert report.dew_point is not None
    # the group of tenths is the closer reading of the two
    assert report.temperature.value == Fraction(_printed(example, "temp_tenths"))
    assert report.dew_point.value == Fraction(_printed(example, "dew_tenths"))
    whole = _report(example, T01820159="")
    assert whole.temperature is not None
    assert whole.temperature.value == Fraction(_printed(example, "temp"))
    assert whole.dew_point is not None
    assert whole.dew_point.value == Fraction(_printed(example, "dew_point"))
    assert _temperatures(report) == (_exact(example, "temp_degF"), _exact(example, "dew_degF"))
    assert report.wind_speed is not None
    assert _is(report.wind_speed.to("mph"), _exact(example, "wind_mph"), 3)
    assert _is(report.wind_gust.to("mph"), _exact(example, "gust_mph"), 3)
    assert report.wind_from is not None
    assert report.wind_from.point == "SW"
    assert report.is_corrected
    assert report.visibility == "0.75 mi"


def klit(example: Example) -> None:
    report = _report(example)
    assert (report.at.day, f"{report.at:%H:%M}") == (20, _printed(example, "time_utc"))
    assert report.wind_speed is not None
    assert report.wind_speed.value == 0
    assert report.wind_from is not None
    assert report.wind_from.point == CALM
    assert report.visibility == f"{_printed(example, 'visibility')} mi"
    assert report.temperature is not None
    assert report.temperature.value == Fraction(_printed(example, "temp"))
    assert _temperatures(report) == (_exact(example, "temp_f"), _exact(example, "dew_f"))
    assert report.is_automated  # AO2


def kdfw(example: Example) -> None:
    """The key of the exercise prints 15.9 degF for -8.9 degC: cut, not rounded; 15.98 it is."""
    report = _report(example)
    assert (report.at.day, f"{report.at:%H:%M}") == (5, _printed(example, "time_utc"))
    assert f"{report.at.astimezone(ZoneInfo('Etc/GMT+6')):%H:%M}" == _printed(example, "time_cst")
    assert f"{report.at.astimezone(ZoneInfo('Etc/GMT+5')):%H:%M}" == _printed(example, "time_cdt")
    _wind(report, example)
    assert report.wind_gust is not None
    assert report.wind_gust.value == Fraction(_printed(example, "gust"))
    air, dew = _temperatures(report)
    assert _close(air, _printed(example, "temp_f"))
    assert not _close(dew, _printed(example, "dew_f"))
    assert dew == _exact(example, "dew_f")
    assert air == _exact(example, "temp_f")
    assert report.dew_point is not None
    assert report.dew_point.value == Fraction(_printed(example, "dew"))


def extract(example: Example) -> None:
    report = _report(example)
    _wind(report, example)
    assert report.wind_from is not None
    assert report.wind_speed is not None
    assert report.temperature is not None
    assert report.dew_point is not None
    assert report.temperature.value == Fraction(_printed(example, "temp"))
    assert report.dew_point.value == Fraction(_printed(example, "dew_point"))
    assert _temperatures(report) == (_exact(example, "temp_degF"), _exact(example, "dew_degF"))
    assert report.wind_from.point == example["recomputed"].rpartition("=")[2]
    assert _close(report.wind_speed.to("mph"), str(float(_exact(example, "wind_mph"))))


def calm(example: Example) -> None:
    report = decode(f"KXYZ 101200Z {_given(example, 'wind')} 10SM", NEAR)
    assert report.wind_from is not None
    assert report.wind_speed is not None
    assert report.wind_from.point == CALM
    assert report.wind_from.degrees is None
    assert report.wind_speed.value == Fraction(_printed(example, "speed")) == _exact(example)


def turning(example: Example) -> None:
    report = decode(f"KXYZ 101200Z 22008KT {_given(example, 'group')} 10SM", NEAR)
    assert report.wind_range == (int(_printed(example, "from")), int(_printed(example, "to")))
    assert report.wind_range[1] - report.wind_range[0] == 80


KINDS: dict[str, Callable[[Example], None]] = {
    "metar-kpit": kpit,
    "metar-klit": klit,
    "metar-kdfw": kdfw,
    "metar-kgtf": extract,
    "metar-klax": extract,
    "metar-calm": calm,
    "metar-variability": turning,
    "compass-deg": degrees_to_point,
    "anl-wind": degrees_to_point,
    "compass": compass,
    "aoml": unit,
    "kt-mph": knots,
    "nws-lzk": thumb,
    "nws-wrong": wrong_label,
    "degf": celsius,
    "uiuc-round": rounded_celsius,
    "va-weather": virginia,
    "wind": towards,
    "svp": pressure,
    "rh": humidity,
    "stull": stull,
    "deltat-classes": classes,
    "deltat": delta,
    "beaufort-gap": gap,
    "beaufort": force,
}


@pytest.mark.parametrize("example", EXAMPLES, ids=[example["id"] for example in EXAMPLES])
def test_published(example: Example) -> None:
    """What the page prints, within its rounding, and the exact value."""
    kind = next(name for name in KINDS if example["id"].startswith(name))
    KINDS[kind](example)


def test_every_row_is_named() -> None:
    """83 rows, and no kind of check without one."""
    ids = [example["id"] for example in EXAMPLES]
    assert len(ids) == len(set(ids)) == 83
    assert {next(name for name in KINDS if one.startswith(name)) for one in ids} == set(KINDS)
