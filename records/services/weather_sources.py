"""Weather of a station, for a visit: rows of an hourly table joined by the instant, or a decoded METAR.

A table is CSV with one row for each station and hour: `origin` (or `station`), `time_hour` (or `time_utc`) with its
offset, `wind_speed` and `wind_gust` in mph, `wind_dir` in degrees or VRB, `temp` in degF, `humid` in per cent. Missing
is NA or empty, and stays missing: only a wind of 0 is calm without a direction. Columns of local time are not joined
by: an hour comes twice in autumn. Station, distance and age stay with the reading, and what no weather has is refused
with its line.
"""

from __future__ import annotations

import csv
import io
import re
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from records.domain.atmosphere import PREFERRED, Advice, Air, advice, delta_class, high_wind, read_humidity, wet_bulb
from records.domain.numerals import QuantityError
from records.domain.quantities import Quantity, decimal_text, parse_length, parse_speed, parse_temperature
from records.domain.weather import (
    CALM,
    VARIABLE,
    beaufort,
    parse_direction,
    plausible_temperature,
    plausible_wind,
    told_value,
)
from records.errors import InputError, NotFoundError, UsageError
from records.services.closing.entry import Reader, shown
from records.services.directory import Directory

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from records.services.metar import MetarReading
    from records.services.ports import Json, OpenBook

HOUR = timedelta(minutes=60)  # common practice: weather older than an hour is measured again
MAX_ROWS = 500_000  # of one table; fifty years of hours
_STATION = ("origin", "station")
_TIME = ("time_hour", "time_utc")
_MISSING = frozenset(("", "NA", "NAN", "M", "NULL"))
_VARIABLE = frozenset(("VRB", "VARIABLE"))  # as a table may say it itself
_NUMBER = re.compile(r"-?\d{1,6}(?:\.\d{1,20})?", re.ASCII)
_INSTANT = re.compile(r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d(?::\d\d)?(?:Z|[+-]\d\d:?\d\d)", re.ASCII)
_PLACE = re.compile(r"\s*([+-]?\d{1,3}(?:\.\d{1,8})?)\s*,\s*([+-]?\d{1,3}(?:\.\d{1,8})?)\s*", re.ASCII)
_VALUES = ("wind_speed", "wind_from", "temperature")


@dataclass(frozen=True, slots=True)
class StationRow:
    """One hour of a station; `weather` holds what an entry would."""

    line: int
    station: str
    at: datetime  # UTC
    weather: dict[str, str]
    problem: str = ""  # what cannot be; the row is refused
    local: tuple[int, int, int, int] | None = None  # year, month, day and hour as the table has them


@dataclass(frozen=True, slots=True)
class Told:
    """Weather of a station for a moment: the block for an entry, and what it means."""

    station: str
    at: datetime  # UTC
    weather: Json
    age: str = ""
    notes: tuple[str, ...] = ()
    facts: tuple[tuple[str, str], ...] = ()
    advice: tuple[Advice, ...] = ()
    wet_bulb: Decimal | None = None
    delta: Decimal | None = None
    metar: MetarReading | None = field(default=None, compare=False)

    @property
    def delta_class(self) -> str:
        """Return the class of Delta T; "" where it is not known."""
        return "" if self.delta is None else delta_class(self.delta).name


def read_table(data: bytes, name: str, station: str) -> list[StationRow]:
    """Return the rows of one station, oldest first.

    Args:
        data: of the file, UTF-8 CSV.
        name: of the file, for messages.
        station: as the table names it.

    Raises:
        InputError: no such table, or an hour that stands twice.
        NotFoundError: the station is not in it.
    """
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(f"{name} is not UTF-8 text (byte {error.start})", "Save it as UTF-8") from error
    try:
        found, stations = _rows(csv.reader(io.StringIO(text, newline=""), strict=True), name, station)
    except csv.Error as error:
        raise InputError(f"{name} is no CSV table: {error}", "It needs a line of names and a row an hour") from error
    if not found:
        known = ", ".join(shown(one) for one in sorted(stations)[:8])
        raise NotFoundError(f"{name} has no station {shown(station)!r}", f"It has: {known}" if known else "It is empty")
    rows = sorted(found, key=lambda row: row.at)
    for before, after in pairwise(rows):
        if before.at == after.at:
            raise InputError(
                f"{name}, lines {before.line} and {after.line}: {before.at:%Y-%m-%d %H:%M} UTC stands twice",
                "Take one out",
            )
    return rows


def _rows(lines: Iterator[list[str]], name: str, station: str) -> tuple[list[StationRow], set[str]]:
    head = [cell.strip().lower() for cell in next(lines, [])]
    columns = {cell: place for place, cell in enumerate(head)}
    of, at = (next((one for one in names if one in columns), None) for names in (_STATION, _TIME))
    if of is None or at is None or "wind_speed" not in columns:
        raise InputError(
            f"{name} has no columns {_STATION[0]}, {_TIME[0]} and wind_speed",
            "The first line names them; time_hour is UTC, speeds are in mph, temperatures in degF",
        )
    wanted, found = station.strip().upper(), list[StationRow]()
    stations: set[str] = set()
    for count, cells in enumerate(lines, 2):
        if count > MAX_ROWS:
            raise InputError(f"{name} has more than {MAX_ROWS:,} rows", "Cut it to the year that is wanted")
        if not cells:
            continue
        row = {cell: cells[place].strip() if place < len(cells) else "" for cell, place in columns.items()}
        if len(stations) < 100:
            stations.add(row[of][:40])
        if row[of].upper() == wanted:
            found.append(_row(row, count, wanted, row[at], name))
    return found, stations


def _row(row: dict[str, str], line: int, station: str, moment: str, name: str) -> StationRow:
    at = None
    if _INSTANT.fullmatch(moment):
        try:
            at = datetime.fromisoformat(moment).astimezone(UTC)
        except (ValueError, OverflowError):
            at = None
    if at is None:
        raise InputError(
            f"{name}, line {line}: {shown(moment)!r} is no instant with its offset", "Write 2013-05-03T18:00:00Z"
        )
    local = [row.get(part, "") for part in ("year", "month", "day", "hour")]
    whole = all(re.fullmatch(r"\d{1,4}", part, re.ASCII) for part in local)
    try:
        weather, problem = _weather(row), ""
    except QuantityError as error:
        weather, problem = {}, str(error)
    year, month, day, hour = (int(part) if whole else 0 for part in local)
    return StationRow(line, station, at, weather, problem, (year, month, day, hour) if whole else None)


def _number(row: dict[str, str], column: str) -> Decimal | None:
    text = row.get(column, "")
    if text.upper() in _MISSING:
        return None
    if not _NUMBER.fullmatch(text):
        raise QuantityError(f"{column} {shown(text)!r} is no number")
    return Decimal(text)


def _weather(row: dict[str, str]) -> dict[str, str]:
    """Return what an entry would say of one row.

    Raises:
        QuantityError: a value that no weather has.
    """
    weather: dict[str, str] = {}
    for column, name in (("wind_speed", "wind_speed"), ("wind_gust", "wind_gust")):
        value = _number(row, column)
        if value is None:
            continue
        if value < 0 or (wrong := plausible_wind(parse_speed(f"{value} mph"))):
            raise QuantityError(f"{column} {value} mph is below zero" if value < 0 else wrong or "")
        weather[name] = f"{decimal_text(Fraction(value), 2)} mph"
    if "wind_gust" in weather and _speed(weather, "wind_gust") < _speed(weather, "wind_speed"):
        raise QuantityError(f"a gust of {weather['wind_gust']} under a wind of {weather.get('wind_speed')} cannot be")
    if "wind_speed" in weather:
        direction = _from(row, is_calm=not _speed(weather, "wind_speed"))
        weather |= {"wind_from": direction} if direction else {}
    value = _number(row, "temp")
    if value is not None:
        weather["temperature"] = f"{decimal_text(Fraction(value), 2)} degF"
        if wrong := plausible_temperature(parse_temperature(weather["temperature"])):
            raise QuantityError(wrong)
    value = _number(row, "humid")
    if value is not None:
        weather["humidity"] = f"{decimal_text(Fraction(value), 2)} %"
        if value <= 0 or read_humidity(weather["humidity"]) is None:
            raise QuantityError(f"humidity {value} % cannot be")
    return weather


def _speed(weather: dict[str, str], name: str) -> Fraction:
    return parse_speed(weather[name]).value if name in weather else Fraction(0)


def _from(row: dict[str, str], *, is_calm: bool) -> str:
    """Return where the wind came from; "" where the table does not say it, which is not the same as variable."""
    if row.get("wind_dir", "").upper() in _VARIABLE:
        return CALM if is_calm else VARIABLE
    degrees = _number(row, "wind_dir")
    if is_calm:
        return CALM
    return "" if degrees is None else str(parse_direction(f"{decimal_text(Fraction(degrees), 2)} deg"))


def off_local(rows: Sequence[StationRow], zone: ZoneInfo) -> list[StationRow]:
    """Return the rows whose columns of local time are not the local time of their instant."""
    found = []
    for row in rows:
        local = row.at.astimezone(zone)
        if row.local is not None and row.local != (local.year, local.month, local.day, local.hour):
            found.append(row)
    return found


def pick(rows: Sequence[StationRow], at: datetime, name: str) -> tuple[StationRow, str]:
    """Return the row that stands for an instant, and its age: the last one not after it, at most an hour old.

    Where there is none, the next one within an hour stands in; the age says so.

    Raises:
        NotFoundError: the table has nothing within an hour.
        InputError: the row holds what cannot be.
    """
    at = at.astimezone(UTC)  # two zones are never equal in the hour that comes twice
    near = [row for row in rows if abs(row.at - at) <= HOUR]
    before, after = [row for row in near if row.at <= at], [row for row in near if row.at > at]
    if not near:
        closest = min(rows, key=lambda row: abs(row.at - at))
        raise NotFoundError(
            f"{name} has nothing of {rows[0].station} within an hour of {at.astimezone(UTC):%Y-%m-%d %H:%M} UTC",
            f"The nearest is of {closest.at:%Y-%m-%d %H:%M} UTC",
        )
    row = before[-1] if before else after[0]
    if row.problem:
        raise InputError(
            f"{name}, line {row.line} ({row.at:%Y-%m-%d %H:%M} UTC) is refused: {row.problem}",
            "Measure at the site, or name another hour with --at",
        )
    minutes = int(abs(row.at - at).total_seconds() // 60)
    return row, f"{minutes} minutes {'before' if row.at <= at else 'after'}"


def of_table(
    rows: Sequence[StationRow], at: datetime, name: str, distance: str | None = None, zone: ZoneInfo | None = None
) -> Told:
    """Return what a table says of a moment.

    Raises:
        NotFoundError: nothing within an hour.
        InputError: the row holds what cannot be.
    """
    row, age = pick(rows, at, name)
    lacks = [
        words
        for part, words in zip(_VALUES, ("wind", "direction", "temperature"), strict=True)
        if part not in row.weather
    ]
    notes = [f"line {row.line} of {name}", *([f"not reported: {', '.join(lacks)}"] if lacks else [])]
    if zone is not None and off_local([row], zone):
        notes.append(f"its columns of local time are not those of {zone.key}; the instant counts")
    weather: Json = dict(row.weather)
    weather |= {"measured_at": _stamp(row.at, zone), "source": "station", "station": row.station}
    if distance:
        weather["distance"] = distance
    return _told(row.station, row.at, weather, zone, age=age, notes=tuple(notes))


def of_metar(text: str, near: datetime, distance: str | None = None, zone: ZoneInfo | None = None) -> Told:
    """Return what a METAR says.

    Raises:
        MetarError: it is none, or says what cannot be.
    """
    from records.services.metar import decode  # noqa: PLC0415 - loads a library that few commands need

    report = decode(text, near)
    weather: Json = {"metar": report.text, **({"distance": distance} if distance else {})}
    values = {
        "wind_speed": report.wind_speed,
        "wind_from": report.wind_from,
        "wind_gust": report.wind_gust,
        "temperature": report.temperature,
        "humidity": report.humidity_text,
    }
    read = {name: str(value) for name, value in values.items() if value is not None}
    notes = [
        *(["automated"] if report.is_automated else []),
        *(["corrected"] if report.is_corrected else []),
        *([f"not understood, left out: {' '.join(report.unread)}"] if report.unread else []),
    ]
    more = [
        *([("turned", f"{report.wind_range[0]} to {report.wind_range[1]} deg")] if report.wind_range else []),
        *([("dew point", told_value(str(report.dew_point)))] if report.dew_point else []),
        *([("visibility", report.visibility)] if report.visibility else []),
    ]
    found = _told(report.station, report.at, read, zone, notes=tuple(notes), more=more, is_clear=report.is_clear)
    return Told(
        found.station,
        found.at,
        weather,
        found.age,
        found.notes,
        found.facts,
        found.advice,
        found.wet_bulb,
        found.delta,
        report,
    )


def _told(
    station: str,
    at: datetime,
    read: Json,
    zone: ZoneInfo | None,
    *,
    age: str = "",
    notes: tuple[str, ...] = (),
    more: Sequence[tuple[str, str]] = (),
    is_clear: bool | None = None,
) -> Told:
    wind = parse_speed(read["wind_speed"]) if "wind_speed" in read else None
    warmth = parse_temperature(read["temperature"]) if "temperature" in read else None
    percent = read_humidity(read.get("humidity"))
    air = Air(wind, warmth, percent, None if zone is None else at.astimezone(zone), is_clear)
    wet = None if air.delta is None or warmth is None or percent is None else wet_bulb(warmth.to("degC"), percent)
    facts = [
        ("wind", told_wind(read)),
        *([("drifts to", parse_direction(read["wind_from"]).downwind)] if _has_downwind(read) else []),
        *([("Beaufort", str(beaufort(wind)))] if wind is not None else []),
        *([("gust", told_value(read["wind_gust"]))] if "wind_gust" in read else []),
        ("temperature", told_value(read["temperature"]) if "temperature" in read else "not reported"),
        *([("humidity", read["humidity"])] if "humidity" in read else []),
        *more,
        *([("wet bulb", f"{decimal_text(Fraction(wet), 1)} degC")] if wet is not None else []),
        *([("Delta T", _delta_words(air.delta))] if air.delta is not None else []),
    ]
    gust = parse_speed(read["wind_gust"]) if "wind_gust" in read else None
    told = (*high_wind(wind, gust), *advice(air))
    return Told(station, at, read, age, notes, tuple(facts), told, wet, air.delta)


def _has_downwind(read: Json) -> bool:
    return "wind_from" in read and bool(parse_direction(read["wind_from"]).downwind)


def _delta_words(delta: Decimal) -> str:
    found = delta_class(delta)
    # What is not preferred is told in full as advice, once.
    told = f": {found.words}" if found is PREFERRED else ""
    return f"{decimal_text(Fraction(delta), 1)} degC, {found.name}{told}"


def told_wind(read: Json) -> str:
    """Return a wind with its direction, in mph as well where it was reported in knots."""
    if "wind_speed" not in read:
        return "not reported"
    if read.get("wind_from") == CALM:
        return "calm"
    speed, direction = told_value(read["wind_speed"]), read.get("wind_from")
    if direction in {None, VARIABLE}:
        return f"{speed}, direction {direction or 'not reported'}"
    return f"{speed} from {direction}"


def _stamp(at: datetime, zone: ZoneInfo | None) -> str:
    local = at if zone is None else at.astimezone(zone)
    return local.isoformat(timespec="minutes").replace("+00:00", "Z")


def zone_of(name: str) -> ZoneInfo:
    """Return a time zone by its name.

    Raises:
        UsageError: there is none.
    """
    try:
        if not re.fullmatch(r"[A-Za-z0-9_+-]{1,30}(?:/[A-Za-z0-9_+-]{1,30}){0,2}", name, re.ASCII):
            raise ValueError(name)  # noqa: TRY301 - one way out for every wrong name
        return ZoneInfo(name)
    except (ValueError, OSError, KeyError) as error:
        raise UsageError(f"{shown(name)!r} is no time zone", "Write one like America/New_York") from error


def moment_of(text: str, zone: ZoneInfo | None) -> datetime:
    """Return an instant as typed on a command line.

    Raises:
        UsageError: no instant, or a local time without its zone.
    """
    if zone is None and not re.search(r"(?:Z|[+-]\d\d:?\d\d)$", text.strip(), re.IGNORECASE):
        raise UsageError(f"{shown(text)!r} has no offset", "Write it (2013-05-03T14:20-04:00), or give --zone")
    reader = Reader()
    found = reader.moment(text, "--at", "--at", zone or ZoneInfo("UTC"))
    if found is None:
        if reader.findings:  # it tells how to write it, in the hour that comes twice with both offsets
            raise UsageError(reader.findings[0].message)
        raise UsageError("--at is empty", "Such as --at 2013-05-03T14:20-04:00, with the offset")
    return found


def distance_of(distance: str | None, station_at: str | None, site_at: str | None) -> str | None:
    """Return how far a station is: as given, or between two places on the earth's ellipsoid.

    Raises:
        UsageError: no distance, no places, or one place without the other.
    """
    if distance is not None:
        try:
            return str(parse_length(distance))
        except QuantityError as error:
            raise UsageError(str(error), "Write it like 4 mi or 6 km") from error
    if station_at is None and site_at is None:
        return None
    if station_at is None or site_at is None:
        raise UsageError("--station-at and --site-at go together", "Give both as LATITUDE,LONGITUDE in degrees")
    first, second = _place(station_at), _place(site_at)
    from geographiclib.geodesic import Geodesic  # type: ignore[import-untyped]  # it has no stubs

    meters = Geodesic.WGS84.Inverse(*map(float, (*first, *second)))["s12"]
    return f"{decimal_text(Quantity(Fraction(f'{meters:.0f}'), 'm').to('mi'), 1)} mi"


def _place(text: str) -> tuple[Decimal, Decimal]:
    found = _PLACE.fullmatch(text)
    place = (Decimal(found[1]), Decimal(found[2])) if found else (Decimal(99), Decimal(0))
    if abs(place[0]) > 90 or abs(place[1]) > 180:
        raise UsageError(f"{shown(text)!r} is no place", "Write latitude and longitude: 40.69,-74.17")
    return place


def fill(
    book: OpenBook, document: Json, rows: Sequence[StationRow], name: str, distance: str | None
) -> tuple[Json, Told | None]:
    """Return a visit's entry with the weather of a station where nothing was measured.

    Args:
        book: for the zone of the site.
        document: as typed.
        rows: of the station.
        name: of the table, for messages.
        distance: of the station from the site.

    Returns:
        The entry, and what was filled in; None where the entry has readings of its own, or no start to join by.

    Raises:
        NotFoundError: nothing within an hour of the start.
        InputError: the row holds what cannot be.
    """
    before = document.get("weather") or {}
    if not isinstance(before, dict) or before.get("metar") or any(isinstance(before.get(one), str) for one in _VALUES):
        return document, None
    zone = _zone(book, document)
    started = Reader().moment(document.get("started"), "started", "the start", zone)
    if started is None:
        return document, None
    told = of_table(rows, started, name, distance, zone)
    stated = dict(before.get("not_measured") or {}) if isinstance(before.get("not_measured") or {}, dict) else {}
    for one in _VALUES:  # why it was not measured at the site stays beside the station's value
        inner = before.get(one)
        if isinstance(inner, dict) and isinstance(inner.get("not_measured"), str):
            stated[one] = inner["not_measured"]
    kept = {key: value for key, value in before.items() if key not in _VALUES and value}
    return {**document, "weather": {**kept, **told.weather, **({"not_measured": stated} if stated else {})}}, told


def _zone(book: OpenBook, document: Json) -> ZoneInfo:
    with book.read() as work:
        directory = Directory(work.catalogue)
        firm, key = directory.business(), document.get("site")
        site = directory.site(key.strip()) if isinstance(key, str) else None
    return ZoneInfo((site[0].timezone if site else "") or (firm[0].timezone if firm else "") or "UTC")
