"""Decodes a pasted METAR: the airport's coded report of wind, temperature and dew point.

The groups are read by the library `metar` (pure Python, without dependencies of its own), which is loaded when a report
is decoded and not before. It is given the body of the report only, bounded, and the one group of the remarks that is
wanted here: some of its patterns for remarks would take for ever over a hostile text. What it reads leniently (a wind
without its unit, letters for figures) is refused here: nothing is guessed.

A METAR names day, hour and minute in UTC; month and year come from the visit. Wind is where it comes FROM, in degrees
from true north (US Federal Meteorological Handbook No. 1, chapters 5 and 12).
"""

from __future__ import annotations

import re
import warnings
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from fractions import Fraction
from typing import TYPE_CHECKING, Literal

from records.domain.atmosphere import AirError, humidity_from_dew_point
from records.domain.numerals import HALF, QuantityError, shown
from records.domain.quantities import Quantity, decimal_text
from records.domain.weather import CALM, VARIABLE, Direction, plausible_temperature, plausible_wind, point_of

if TYPE_CHECKING:
    from metar.Metar import Metar

MAX_METAR = 600  # characters; the longest report in use is about half of it
_EXAMPLE = "KXYZ 141453Z 22015G25KT 10SM CLR 18/16 A2992 RMK AO2 T01820159"
_REMEDY = f"paste the report as it was issued, like {_EXAMPLE}, or type the reading by hand"
_BY_HAND = "paste the report as it was issued, or type the reading by hand"
_BODY = re.compile(r"[A-Z0-9/+-]{1,20}", re.ASCII)
_STATION = re.compile(r"[A-Z][A-Z0-9]{3}", re.ASCII)
_TIME = re.compile(r"(\d\d)(\d\d)(\d\d)Z", re.ASCII)
_WIND = re.compile(r"(\d{3}|VRB)(P?\d{2,3})(?:G(P?\d{2,3}))?(KT|MPS|KMH)", re.ASCII)
_NO_WIND = re.compile(r"[/M]{5,7}(?:KT|MPS|KMH)?", re.ASCII)
_RANGE = re.compile(r"\d{3}V\d{3}", re.ASCII)
_TENTHS = re.compile(r"T[01]\d{3}(?:[01]\d{3})?", re.ASCII)
_ENDS = re.compile(r"RMKS?|NOSIG|NOSPECI|TEMPO|BECMG|FCST|FM\d{4,6}", re.ASCII)  # what follows is no observation of now
_CORRECTED = re.compile(r"CORR?|CC[A-G]", re.ASCII)
_UNITS = {"KT": "kn", "MPS": "m/s", "KMH": "km/h"}
_CLEAR = frozenset(("CLR", "NSC", "NCD", "FEW"))
_LENGTHS = {"SM": "mi", "MI": "mi", "KM": "km", "M": "m", "FT": "ft"}


class MetarError(QuantityError):
    """A text that is no METAR, or one with what cannot be; the message says what would be understood."""


@dataclass(frozen=True, slots=True)
class MetarReading:
    """What a METAR says; parts that it does not report are None."""

    text: str  # in one line, as it was pasted
    station: str
    at: datetime  # UTC
    wind_speed: Quantity | None = None
    wind_from: Direction | None = None
    wind_gust: Quantity | None = None
    wind_range: tuple[int, int] | None = None  # degrees, clockwise: the direction turned between the two
    temperature: Quantity | None = None
    dew_point: Quantity | None = None
    visibility: str = ""
    is_clear: bool | None = None  # few clouds at most; None where the sky is not told
    is_automated: bool = False
    is_corrected: bool = False
    unread: tuple[str, ...] = ()  # groups that were not understood

    @property
    def humidity(self) -> Fraction | None:
        """Return the relative humidity in per cent, from temperature and dew point, to a tenth."""
        if self.temperature is None or self.dew_point is None:
            return None
        percent = humidity_from_dew_point(self.temperature.to("degC"), self.dew_point.to("degC"))
        return Fraction(percent.quantize(Decimal("0.1")))

    @property
    def humidity_text(self) -> str | None:
        """Return the humidity as an entry has it."""
        return None if self.humidity is None else f"{decimal_text(self.humidity, 1)} %"


def is_metar(text: str) -> bool:
    """Tell whether a text looks like a METAR: a station and its time, or the word."""
    words = text.upper().split(maxsplit=4)
    return any(_TIME.fullmatch(word) for word in words[:4]) or words[:1] in (["METAR"], ["SPECI"])


def decode(text: object, near: datetime) -> MetarReading:
    """Decode a METAR.

    Args:
        text: as pasted; several lines are taken for one.
        near: an aware instant; the report is placed on the day of that number nearest to it.

    Raises:
        MetarError: it is none, or says what cannot be.
    """
    words = _words(text)
    kept = " ".join(words)
    words = [word for word in words if word not in {"METAR", "SPECI"}]
    end = next((i for i, word in enumerate(words) if _ENDS.fullmatch(word)), len(words))
    body, rest = words[:end], words[end:]
    tenths = list(dict.fromkeys(word for word in words if _TENTHS.fullmatch(word)))
    if len(tenths) > 1:
        raise MetarError(f"METAR has two groups of tenths, {' and '.join(tenths[:2])}; paste one report")
    body = [word for word in body if not _TENTHS.fullmatch(word)]
    if body[:1] == ["COR"]:
        body = [*body[1:3], "COR", *body[3:]]
    if len(body) < 2 or not _STATION.fullmatch(body[0]) or not _TIME.fullmatch(body[1]):
        raise MetarError(f"METAR {shown(kept)} does not begin with a station and its time in UTC; {_REMEDY}")
    if sum(bool(_TIME.fullmatch(word)) for word in body) > 1:
        raise MetarError(f"METAR {shown(kept)} is more than one report; paste one")
    if "NIL" in body or len(body) == 2:
        raise MetarError(f"METAR of {body[0]} reports nothing; take the one before, or measure at the site")
    at = _instant(body[1], near)
    report, unread = _parsed(body, tenths, at)
    reading = MetarReading(
        text=kept,
        station=body[0],
        at=at,
        **_wind(report, body, unread),  # type: ignore[arg-type]  # names and types are those of the fields
        **_warmth(report, tenths),  # type: ignore[arg-type]  # as above
        visibility=_visibility(report, body),
        is_clear=all(cover in _CLEAR for cover, *_ in report.sky) if report.sky else ("CAVOK" in body or None),
        is_automated="AUTO" in body or not {"AO1", "AO2"}.isdisjoint(rest),
        is_corrected=any(_CORRECTED.fullmatch(word) for word in body[2:]),
        unread=unread,
    )
    if reading.wind_speed is None and reading.temperature is None:
        raise MetarError(f"METAR of {body[0]} has neither wind nor temperature; {_REMEDY}")
    return reading


def _words(text: object) -> list[str]:
    """Return the groups of a report, in capitals.

    Raises:
        MetarError: no text, or none that can be looked at.
    """
    if not isinstance(text, str):
        raise MetarError(f"METAR is not text; paste it like {_EXAMPLE}")
    if len(text) > MAX_METAR:
        raise MetarError(f"METAR is {len(text):,} characters long; paste one report of at most {MAX_METAR}")
    plain = text.strip().rstrip("=").upper()
    if not plain:
        raise MetarError(f"METAR is empty; paste it like {_EXAMPLE}")
    words = plain.split()
    if not all(word.isascii() and word.isprintable() for word in words):
        raise MetarError(f"METAR {shown(plain)} holds characters that no report has; paste it like {_EXAMPLE}")
    return words


def _instant(group: str, near: datetime) -> datetime:
    """Return the instant of a day and time, in the month that brings it nearest to another instant.

    Raises:
        MetarError: no time of day, or no month beside has such a day.
    """
    day, hour, minute = (int(group[i : i + 2]) for i in (0, 2, 4))
    near = near.astimezone(UTC)
    first = near.replace(day=1)
    found = []
    for month in (first - timedelta(days=1), first, first + timedelta(days=31)):
        try:
            found.append(datetime(month.year, month.month, day, hour, minute, tzinfo=UTC))
        except ValueError:
            continue  # no such day in that month, or no such time at all
    if not found:
        raise MetarError(f"METAR time {group} is no day of a month near {near:%Y-%m-%d} and time in UTC")
    return min(found, key=lambda one: abs(one - near))


def _parsed(body: list[str], tenths: list[str], at: datetime) -> tuple[Metar, tuple[str, ...]]:
    """Return the report as the library reads it, and the groups it did not understand.

    Raises:
        MetarError: it fails over a group.
    """
    from metar.Metar import Metar

    odd = [word for word in body if not _BODY.fullmatch(word)]
    fed = " ".join([*(word for word in body if _BODY.fullmatch(word)), *(["RMK", *tenths] if tenths else [])])
    with warnings.catch_warnings(record=True) as told:
        warnings.simplefilter("always")
        try:
            report = Metar(fed, month=at.month, year=at.year, strict=False)
        except Exception as error:  # whatever somebody else's code makes of a hostile text
            raise MetarError(f"METAR {shown(' '.join(body))} cannot be read; {_REMEDY}") from error
    for one in map(str, (warning.message for warning in told)):
        groups = re.match(r"Unparsed groups in body '(.*)' while", one, re.DOTALL)
        if groups is None:
            # The library's own words name its functions; which group it stopped at is all that helps.
            stopped = re.search(r"while processing '\s*(\S+)", one)
            which = stopped[1] if stopped and stopped[1] in body else " ".join(body)
            raise MetarError(f"METAR group {shown(which)} cannot be read; {_REMEDY}")
        odd += groups[1].split()
    return report, tuple(odd)


def _count(group: str, what: str) -> int:
    if group.startswith("P"):
        raise MetarError(f"METAR {what} is over {group[1:]}, beyond what is reported; no wind to work in; {_BY_HAND}")
    return int(group)


def _wind(report: Metar, body: list[str], unread: tuple[str, ...]) -> dict[str, object]:
    """Return the parts of the wind.

    Raises:
        MetarError: it was not understood, or cannot be.
    """
    groups = [found for word in body[2:] if (found := _WIND.fullmatch(word))]
    if len({found[0] for found in groups}) > 1:
        raise MetarError(f"METAR has two winds, {groups[0][0]} and {groups[1][0]}; paste one report")
    if not groups:
        _check_no_wind(report, body, unread)
        return {}
    group = groups[0]
    if report.wind_speed is None:
        raise MetarError(f"METAR wind {group[0]} stands out of its place; paste the report as it was issued")
    unit = _UNITS[group[4]]
    speed = Quantity(Fraction(_count(group[2], "wind")), unit, HALF, str(int(group[2])))
    direction = _from(group[1], speed, group[0])
    parts: dict[str, object] = {"wind_speed": speed, "wind_from": direction}
    if group[3]:
        gust = Quantity(Fraction(_count(group[3], "gust")), unit, HALF, str(int(group[3])))
        if gust.value < speed.value:
            raise MetarError(f"METAR {group[0]} has a gust under the wind; paste the report as it was issued")
        parts["wind_gust"] = gust
    for one in (parts.get("wind_gust"), speed):
        if isinstance(one, Quantity) and (wrong := plausible_wind(one)):
            raise MetarError(f"METAR {wrong}; {_BY_HAND}")
    parts["wind_range"] = _range(body[body.index(group[0]) + 1 :])
    return parts


def _range(after: list[str]) -> tuple[int, int] | None:
    """Return between which degrees the wind turned, where the group after the wind says so."""
    if not after or not _RANGE.fullmatch(after[0]):
        return None
    ends = int(after[0][:3]), int(after[0][4:])
    if max(ends) > 360:
        raise MetarError(f"METAR range {after[0]} is over 360 degrees; {_BY_HAND}")
    return ends


def _check_no_wind(report: Metar, body: list[str], unread: tuple[str, ...]) -> None:
    """Refuse a report whose wind was not understood; one that says that it has none passes.

    Raises:
        MetarError: a wind without its unit, or a group that may be one.
    """
    is_missing = any(_NO_WIND.fullmatch(word) for word in body)
    if report.wind_speed is not None or (unread and not is_missing):
        which = f"; {shown(' '.join(unread))} was not understood" if unread else ""
        raise MetarError(f"METAR has no wind such as 22015KT, with direction, speed and unit{which}; {_REMEDY}")


def _from(text: str, speed: Quantity, group: str) -> Direction:
    if speed.value == 0:
        if text not in {"000", "VRB"}:
            raise MetarError(f"METAR {group} has a direction without a wind; calm is 00000KT")
        return Direction(CALM)
    if text == "VRB":
        return Direction(VARIABLE)
    if not 1 <= int(text) <= 360:
        raise MetarError(f"METAR {group} has no direction of 001 to 360 degrees; a north wind is 360")
    return Direction(point_of(Fraction(int(text))), Fraction(int(text)))


def _warmth(report: Metar, tenths: list[str]) -> dict[str, object]:
    """Return temperature and dew point; the group of tenths, where there is one, is the closer reading.

    Raises:
        MetarError: a temperature that cannot be.
    """
    half = Fraction(1, 20) if tenths else HALF
    parts: dict[str, object] = {}
    for name, one in (("temperature", report.temp), ("dew_point", report.dewpt)):
        if one is None:
            continue
        is_tenths = bool(tenths) and (name == "temperature" or len(tenths[0]) > 5)
        number = f"{one.value('C'):.{1 if is_tenths else 0}f}"
        number = number.removeprefix("-") if not Decimal(number) else number
        value = Quantity(Fraction(number), "degC", half if is_tenths else HALF, number)
        if wrong := plausible_temperature(value):
            raise MetarError(f"METAR {name.replace('_', ' ')}: {wrong}; {_BY_HAND}")
        parts[name] = value
    air, dew = parts.get("temperature"), parts.get("dew_point")
    if isinstance(air, Quantity) and isinstance(dew, Quantity):
        try:
            humidity_from_dew_point(air.value, dew.value)
        except AirError as error:
            raise MetarError(f"METAR: {error}; {_BY_HAND}") from error
    return parts


def _visibility(report: Metar, body: list[str]) -> str:
    if "CAVOK" in body or "9999" in body:
        return "10 km or more"
    if report.vis is None:
        return ""
    told, sign = report.vis.string(), ""
    if told.startswith(("less", "greater")):
        sign = "under " if told.startswith("less") else "over "
    unit: Literal["M", "SM", "KM"] = "M"
    for word in body[2:]:
        if found := re.fullmatch(r"[MP]?[\d/]+(SM|KM)", word):
            unit = "SM" if found[1] == "SM" else "KM"
    value = Fraction(report.vis.value(unit)).limit_denominator(100)
    return f"{sign}{decimal_text(value, 4)} {_LENGTHS[unit]}"
