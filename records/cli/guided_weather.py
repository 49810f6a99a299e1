"""The questions about the weather: asked for where a rule or a label wants it, passed over with Enter elsewhere.

The question for the wind takes all of a reading at once (`6 nw 61`): what is left out is asked for. A METAR may be
pasted in place of a reading.
"""

from __future__ import annotations

import re
from functools import partial
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from records.cli.guided import put, typed_text, with_unit
from records.cli.output import talk, wrapped
from records.cli.prompts import ask, moment, yes

if TYPE_CHECKING:
    from collections.abc import Callable, Collection
    from datetime import datetime

    from records.cli.guided import Guide
    from records.services.ports import Json

UNMEASURED = "not measured"
_READING = re.compile(
    r"(?P<speed>\d+(?:\.\d+)?(?:\s*(?:mph|kn|kts?|knots?|km/h|kph|m/s))?)"
    r"(?:[\s,]+(?P<point>[a-z][a-z -]*|\d+(?:\.\d+)?(?:\s*(?:deg(?:rees)?|\u00b0))?))?"
    r"(?:[\s,]+(?P<warmth>-?\d+(?:\.\d+)?\s*(?:\u00b0\s*|deg\.?\s*)?[fc]?))?",
    re.IGNORECASE | re.ASCII,
)


def ask_weather(guide: Guide) -> None:
    """Offer the weather of the last stop while it is fresh, with its age; else ask for each part."""
    if guide.site is None:
        return
    weather = guide.document.setdefault("weather", {})
    wanted = guide.known.weather_wanted(guide.document)
    carried = guide.known.carried(guide.stop, guide.site, guide.started())
    if carried is not None and not weather:
        talk(wrapped(f"weather of your last stop, {carried.serial}: {carried.words}", "    ", "  "))
        if yes("does it still stand here?"):
            weather.update(carried.weather)
            return
    elif guide.stop is not None and not weather and wanted:
        talk("  the weather of your last stop is missing or more than an hour old: measure")
    _measure(guide, weather, wanted)
    if not weather:
        guide.document.pop("weather")


def _measure(guide: Guide, weather: Json, wanted: Collection[str]) -> None:
    """Ask for each part; what neither a rule nor a label chosen asks for may be passed over with Enter."""
    from records.domain.quantities import parse_speed, parse_temperature
    from records.domain.weather import parse_direction
    from records.services.metar import is_metar

    is_free = {"wind_speed", "wind_from"}.isdisjoint(wanted)
    if isinstance(weather.get("metar"), str):
        weather["wind_speed"] = weather.pop("metar")  # what stood as the answer before
    also: dict[str, str] = {}  # what the same answer says of direction and temperature
    read = _wind_or_metar(guide, _all_at_once(with_unit(parse_speed, "mph"), also))
    _measured(weather, "wind_speed", "wind, mph, or all: 6 nw 61, or a METAR (0 when calm", read, is_free=is_free)
    speed = weather.get("wind_speed")
    if isinstance(speed, str) and is_metar(speed):
        _take_metar(guide, weather, wanted)
        return
    for part in ("station", "distance", "wind_gust"):
        weather.pop(part, None)  # of an answer before this one
    if not isinstance(speed, str):
        put(weather, "wind_from", dict(speed) if speed else None)
    elif also.get("wind_from"):
        weather["wind_from"] = also["wind_from"]
    elif parse_speed(speed).value:
        _measured(weather, "wind_from", "wind FROM (NW, 315, variable", lambda text: str(parse_direction(text)))
    else:
        weather["wind_from"] = "calm"
    is_free = "temperature" not in wanted
    if also.get("temperature"):
        weather["temperature"] = also["temperature"]
    else:
        read = with_unit(parse_temperature, "degF")
        _measured(weather, "temperature", "temperature, degF (71", read, is_free=is_free)
    if not any(isinstance(weather.get(key), str) for key in ("wind_speed", "temperature")):
        weather.pop("measured_at", None)  # nothing was measured: there is no time and no instrument to tell
        weather.pop("source", None)
        return
    now, started = guide.now(), guide.started()
    default = typed_text(weather, "measured_at") or f"{started or now:%H:%M}"
    weather["measured_at"] = ask("measured at", default, partial(moment, now=started or now))
    weather["source"] = ask("measured with", typed_text(weather, "source") or "meter")


def _all_at_once(read: Callable[[str], str], also: dict[str, str]) -> Callable[[str], str]:
    """Return a reader of the wind that takes direction and temperature in the same answer, and says all it took.

    Args:
        read: of a speed alone.
        also: where direction and temperature are put; what the answer does not say stays out.
    """
    from records.domain.quantities import parse_speed, parse_temperature
    from records.domain.weather import CALM, VARIABLE, parse_direction

    def check(text: str) -> str:
        also.clear()
        found = _READING.fullmatch(text.strip())
        if found is None or not (found["point"] or found["warmth"]):
            return read(text)
        speed = parse_speed(_in(found["speed"], "mph"))
        point, warmth = found["point"], found["warmth"]
        if point and point.replace(".", "", 1).isdigit() and not warmth:  # one number: which of the two is it?
            if speed.value:
                raise ValueError(f"is {point} degrees or degF? write all three (6 nw 61, 6 315 61), or 6, 61 F")
            point, warmth = None, point  # a calm has no direction
        direction = parse_direction(point) if point else None
        if direction is not None and (direction.point == CALM) is bool(speed.value):
            raise ValueError(f"a wind of {speed} from {direction} cannot be; calm goes with 0 and only with it")
        told = "calm" if not speed.value else f"wind {speed}"
        if direction is not None and speed.value:
            told += f", {direction}" if direction.point == VARIABLE else f" from {direction}"
        if warmth:
            warmth = str(parse_temperature(_in(re.sub(r"\u00b0|deg\.?", " ", warmth, flags=re.IGNORECASE), "degF")))
            also["temperature"] = warmth
            told += f", {warmth}"
        if direction is not None:
            also["wind_from"] = str(direction)
        talk(f"  {told}")
        return str(speed)

    return check


def _in(text: str, unit: str) -> str:
    """Return a number with a unit: its own, or that which the question names."""
    plain = " ".join(text.split())
    return plain if plain[-1].isalpha() else f"{plain} {unit}"


def _wind_or_metar(guide: Guide, read: Callable[[str], str]) -> Callable[[str], str]:
    """Return a reader that takes a wind, or a whole METAR that can be decoded."""

    def check(text: str) -> str:
        from records.services.metar import decode, is_metar

        if not is_metar(text):
            return read(text)
        report = decode(text, guide.started() or guide.now())
        if report.wind_speed is None:
            raise ValueError("that report has no wind; measure it, or paste another")
        return report.text

    return check


def _take_metar(guide: Guide, weather: Json, wanted: Collection[str]) -> None:
    """Keep a pasted METAR in place of readings, with how far its station is; say what it reads and advises."""
    from records.domain.quantities import parse_length, parse_temperature
    from records.services.weather_sources import of_metar

    text, near = str(weather["wind_speed"]), guide.started() or guide.now()
    told = of_metar(text, near, zone=near.tzinfo if isinstance(near.tzinfo, ZoneInfo) else None)
    for name in (*weather,):
        weather.pop(name)
    weather["metar"] = text
    facts = "; ".join(f"{name} {value}" for name, value in told.facts if name != "drifts to")
    talk(wrapped(f"station {told.station}, {told.at:%Y-%m-%d %H:%M} UTC: {facts}", "    ", "  "))
    for one in told.advice:
        talk(wrapped(f"note: {one.words} ({one.source})", "    ", "  "))
    put(
        weather,
        "distance",
        ask("how far is the station", None, _length(parse_length), optional=True, enter="not known"),
    )
    if "temperature" in wanted and (told.metar is None or told.metar.temperature is None):
        _measured(weather, "temperature", "temperature, degF (71", with_unit(parse_temperature, "degF"))
        weather["measured_at"] = ask("measured at", f"{near:%H:%M}", partial(moment, now=near))
        weather["source"] = ask("measured with", "meter")


def _length(read: Callable[[object], object]) -> Callable[[str], str]:
    return lambda text: str(read(f"{text} mi" if text.replace(".", "", 1).isdigit() else text))


def ask_passed_over(guide: Guide) -> None:
    """Come back to the weather that was passed over, where what was chosen since asks for it."""
    weather = guide.document.get("weather") or {}
    stated = weather.get("not_measured")
    there = {*weather, *(stated if isinstance(stated, dict) else ())}
    if isinstance(weather.get("metar"), str):
        there |= {"wind_speed", "wind_from", "temperature"}  # what it lacked was asked for with it
    who = dict.fromkeys(one for key, one in guide.known.weather_wanted(guide.document).items() if key not in there)
    if who:
        talk(wrapped(f"the weather is not noted yet; asked for by {', '.join(who)}", "    ", "  "))
        ask_weather(guide)


def _shown(value: object) -> str:
    return UNMEASURED if isinstance(value, dict) else str(value or "?")


def weather_words(weather: Json | None, near: datetime | None) -> list[str]:
    """Return the weather of an entry in a few words; of a METAR what it reads, and the report itself.

    Args:
        weather: as typed.
        near: the visit, by which a report gets its month; None: not known.
    """
    if not weather:
        return ["weather not noted"]
    if weather.get("metar"):
        return [*_decoded(str(weather["metar"]), weather, near), f"METAR {weather['metar']}"]
    parts = [_shown(weather.get(key)) for key in ("wind_speed", "wind_from", "temperature")]
    wind = f"wind {parts[0]}" if parts[1] in {UNMEASURED, "calm", "?"} else f"wind {parts[0]} from {parts[1]}"
    warmth = f"temperature {parts[2]}" if parts[2] in {UNMEASURED, "?"} else parts[2]
    return [f"{wind}, {warmth}"]


def _decoded(text: str, weather: Json, near: datetime | None) -> list[str]:
    """Return what a METAR reads, in mph and degF; nothing where it cannot be decoded, which closing says."""
    from records.domain.numerals import QuantityError
    from records.domain.weather import converted
    from records.services.metar import decode

    try:
        report = decode(text, near) if near is not None else None
    except QuantityError:
        report = None
    if report is None or near is None:
        return []

    def told(value: object) -> str:
        return converted(str(value)) or str(value)

    wind = "wind not reported"
    if report.wind_speed is not None:
        wind = f"wind {told(report.wind_speed)}, {report.wind_from}"
        if report.wind_from is not None and report.wind_from.downwind:
            wind = f"wind {told(report.wind_speed)} from {report.wind_from}"
        wind = wind if report.wind_speed.value else "calm"
    gusts = f", gusts {told(report.wind_gust)}" if report.wind_gust is not None else ""
    typed = weather.get("temperature")
    typed = f"{typed} by {weather.get('source', 'meter')}" if isinstance(typed, str) else "temperature not reported"
    warmth = told(report.temperature) if report.temperature is not None else typed
    at = report.at.astimezone(near.tzinfo)
    return [f"{wind}{gusts}, {warmth}: station {report.station}, {at:%Y-%m-%d %H:%M} local time"]


def _measured(weather: Json, key: str, question: str, read: Callable[[str], str], *, is_free: bool = False) -> None:
    """Ask for one reading; `-` asks why there is none, or passes over it where nobody asks for it."""
    before = typed_text(weather, key)
    if is_free:
        put(weather, key, ask(f"{question})", before, read, optional=True, enter="not noted"))
        return

    def check(text: str) -> str:
        return text if text == "-" else read(text)

    answer = ask(f"{question}; - when {UNMEASURED})", before, check)
    weather[key] = answer if answer != "-" else {"not_measured": ask("  why not", None)}
