"""How a record's weather is told: which of it a station stands in for, and what was kept beside it."""

from __future__ import annotations

from typing import Any

from records.domain.weather import told_value

_WORDS = {
    "wind_speed": "wind",
    "wind_from": "direction",
    "wind_gust": "gust",
    "temperature": "temperature",
    "humidity": "humidity",
}


def is_of_station(weather: dict[str, Any]) -> bool:
    """Tell whether all of a record's weather is a station's."""
    return str(weather.get("source") or "").casefold().startswith("station")


def filled(weather: dict[str, Any]) -> list[str]:
    """Return the parts that a station stands in for, where the rest was measured at the site."""
    parts = weather.get("of_station")
    return [part for part in parts if isinstance(part, str)] if isinstance(parts, list) else []


def station_words(weather: dict[str, Any]) -> str:
    """Return which station, and how far away; "" where none is named."""
    station, distance = weather.get("station"), weather.get("distance")
    far = f", {distance} away" if distance else ""
    return f"station {station}{far}" if station else ""


def source_words(weather: dict[str, Any]) -> str:
    """Return what the weather was measured with: the meter, or which station stands in, for which parts."""
    source, station = str(weather.get("source") or ""), station_words(weather)
    if is_of_station(weather):
        more = source[len("station") :].strip(" ,:") if station else ""
        return f"{station or source}, not measured at the site" + (f" ({more})" if more else "")
    parts = [_WORDS.get(name, name) for name in filled(weather)]
    if parts:
        return f"{source}; {' and '.join(parts)} of {station or 'a station'}, not measured at the site"
    return source


def beside_words(weather: dict[str, Any]) -> str:
    """Return what a station reported beside the reading at the site; "" where nothing was kept."""
    beside = weather.get("beside")
    if not isinstance(beside, dict):
        return ""
    parts = []
    told = {name: told_value(str(beside[name])) for name in _WORDS if beside.get(name)}
    if "wind_speed" in told:
        wind = "calm" if told.get("wind_from") == "calm" else f"wind {told['wind_speed']}"
        parts.append(wind + (f" from {told['wind_from']}" if told.get("wind_from", "calm") != "calm" else ""))
    parts += [f"gusts {told['wind_gust']}"] if "wind_gust" in told else []
    parts += [told["temperature"]] if "temperature" in told else []
    moment = beside.get("measured_at")
    when = f" at {str(moment.get('local'))[11:16]}" if isinstance(moment, dict) else ""
    return f"{station_words(weather) or 'station'}{when}: {', '.join(parts)}" if parts else ""
