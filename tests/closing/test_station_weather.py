"""What a record keeps of a station's weather, and how it is told."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from records.services.inspecting.facts import BY_KEY
from records.services.suggesting import Suggestions
from records.services.weather_sources import fill, read_table
from tests.kit import ABSENT, Kit, visit

if TYPE_CHECKING:
    from pathlib import Path

METAR = "KXYZ 141405Z 24006G11KT 10SM FEW040 21/11 A2992 RMK AO2 T02110108"
NONE: dict[str, Any] = dict.fromkeys(
    ("wind_speed", "wind_from", "temperature", "humidity", "measured_at", "source"), ABSENT
)
TABLE = (
    "origin,time_hour,wind_dir,wind_speed,temp,humid\n"
    "XYZ,2026-05-14T13:00:00Z,200,1048.36,70,50\n"
    "XYZ,2026-05-14T14:00:00Z,240,6.9,70,52\n"
)


@pytest.fixture
def kit(tmp_path: Path) -> Kit:
    """Return a book with the small firm."""
    return Kit.at(tmp_path)


def _weather(kit: Kit, serial: str | None) -> dict[str, Any]:
    with kit.book.read() as work:
        found: dict[str, Any] = work.records.revisions(str(serial))[-1].body["weather"]
    return found


def test_a_metar_alone(kit: Kit) -> None:
    """All of it is the station's, with its own time; humidity comes from the dew point."""
    weather = _weather(kit, kit.close(**NONE, metar=METAR, distance="4 mi").serial)
    assert weather == {
        "wind_speed": "6 kn",
        "wind_from": "WSW (240 deg)",
        "temperature": "21.1 degC",
        "humidity": "51.8 %",
        "measured_at": {"local": "2026-05-14T09:05-05:00", "utc": "2026-05-14T14:05:00Z"},
        "source": "station",
        "not_measured": {},
        "wind_gust": "11 kn",
        "metar": METAR,
        "station": "KXYZ",
        "distance": "4 mi",
    }
    assert BY_KEY["weather_source"].read({"weather": weather}, {}, {}) == (
        "station KXYZ, 4 mi away, not measured at the site"
    )


def test_a_meter_wins_and_the_report_stays_beside_it(kit: Kit) -> None:
    """Nothing of the meter's reading changes; what it lacked is filled, and named."""
    meter = NONE | {"wind_speed": "5 mph", "wind_from": "SW", "measured_at": "2026-05-14T09:08", "source": "meter"}
    weather = _weather(kit, kit.close(**meter, metar=METAR).serial)
    assert (weather["wind_speed"], weather["wind_from"], weather["source"]) == ("5 mph", "SW", "meter")
    assert (weather["temperature"], weather["of_station"]) == ("21.1 degC", ["temperature", "humidity"])
    assert "wind_gust" not in weather
    assert weather["measured_at"]["local"] == "2026-05-14T09:08-05:00"
    assert weather["beside"] == {
        "wind_speed": "6 kn",
        "wind_from": "WSW (240 deg)",
        "wind_gust": "11 kn",
        "temperature": "21.1 degC",
        "humidity": "51.8 %",
        "measured_at": {"local": "2026-05-14T09:05-05:00", "utc": "2026-05-14T14:05:00Z"},
    }
    assert BY_KEY["station_beside"].read({"weather": weather}, {}, {}) == (
        "station KXYZ at 09:05: wind 6 kn (6.9 mph) from WSW (240 deg), gusts 11 kn (12.7 mph), 21.1 degC (70 degF)"
    )
    assert BY_KEY["metar"].read({"weather": weather}, {}, {}) == METAR


@pytest.mark.parametrize(
    ("changes", "filled"),
    [
        ({"wind_from": "SW"}, ["wind_speed", "temperature", "humidity"]),
        ({"wind_speed": "5 mph"}, ["wind_from", "temperature", "humidity"]),
        ({"wind_speed": "calm"}, ["temperature", "humidity"]),
        ({"temperature": "70 degF"}, ["wind_speed", "wind_from", "wind_gust", "humidity"]),
        ({"temperature": "70 degF", "humidity": "50 %"}, ["wind_speed", "wind_from", "wind_gust"]),
    ],
    ids=["direction", "speed", "calm", "temperature", "both"],
)
def test_what_a_report_fills(kit: Kit, changes: dict[str, str], filled: list[str]) -> None:
    """Only what is not there."""
    typed = NONE | {"measured_at": "2026-05-14T09:08", "source": "meter"} | changes
    assert _weather(kit, kit.close(**typed, metar=METAR).serial)["of_station"] == filled


def test_why_it_was_not_measured_stays(kit: Kit) -> None:
    """The reason stands beside the station's value."""
    reason = {"not_measured": "the meter was wet"}
    weather = _weather(kit, kit.close(**NONE | {"wind_speed": reason}, metar=METAR).serial)
    assert weather["wind_speed"] == "6 kn"
    assert weather["not_measured"] == {"wind_speed": "the meter was wet"}


def test_without_a_start_a_report_has_no_day(kit: Kit) -> None:
    """The missing start is told, not a missing wind."""
    outcome = kit.close(**NONE, metar=METAR, started=ABSENT)
    assert outcome.status == "held"
    assert {one["at"] for one in outcome.findings if one["severity"] == "stop"} == {"started"}


def test_an_older_record_has_nothing_new(kit: Kit) -> None:
    """A visit with neither station nor gust keeps the shape it always had."""
    assert set(_weather(kit, kit.close().serial)) == {
        "wind_speed",
        "wind_from",
        "temperature",
        "humidity",
        "measured_at",
        "source",
        "not_measured",
    }


def test_carried_weather_of_a_station_stays_a_stations(kit: Kit) -> None:
    """The next stop takes the label along."""
    serial = str(kit.close(**NONE, metar=METAR, distance="4 mi").serial)
    known = Suggestions(kit.book, kit.clock)
    with kit.book.read() as work:
        stop = work.records.revisions(serial)[-1]
    site = known.site("mill-9")
    assert site is not None
    carried = known.carried(stop, site, known.now(site).replace(2026, 5, 14, 9, 40, 0, 0))
    assert carried is not None
    assert carried.weather["source"] == f"station, carried from {serial}"
    assert (carried.weather["station"], carried.weather["distance"]) == ("KXYZ", "4 mi")


def test_filling_a_visit_from_a_table(kit: Kit) -> None:
    """Only an entry without a reading is filled; reasons stay."""
    rows = read_table(TABLE.encode(), "t.csv", "XYZ")
    typed = visit(**NONE)
    filled, told = fill(kit.book, typed, rows, "t.csv", "4 mi")
    assert told is not None
    assert filled["weather"] == {
        "wind_speed": "6.9 mph",
        "wind_from": "WSW (240 deg)",
        "temperature": "70 degF",
        "humidity": "52 %",
        "measured_at": "2026-05-14T09:00-05:00",
        "source": "station",
        "station": "XYZ",
        "distance": "4 mi",
    }
    assert kit.close(**filled["weather"]).status == "sealed"
    wet = {"not_measured": "wet"}
    filled, _ = fill(kit.book, visit(**NONE | {"wind_speed": wet}), rows, "t.csv", None)
    assert filled["weather"]["not_measured"] == {"wind_speed": "wet"}
    for other in (visit(), visit(**NONE, metar=METAR), visit(**NONE, started=ABSENT), {"weather": 5}):
        assert fill(kit.book, other, rows, "t.csv", None) == (other, None)


def test_the_packet_prints_a_stations_units_in_ours_too(kit: Kit) -> None:
    """Knots and degC of a report stand with mph and degF: 6 kn x 1.15078 = 6.9 mph, 21.1 degC = 69.98 degF."""
    weather = _weather(kit, kit.close(**NONE, metar=METAR, distance="4 mi").serial)
    told = {key: BY_KEY[key].read({"weather": weather}, {}, {}) for key in ("wind_speed", "wind_gust", "temperature")}
    assert told == {
        "wind_speed": "6 kn (6.9 mph)",
        "wind_gust": "11 kn (12.7 mph)",
        "temperature": "21.1 degC (70 degF)",
    }
    measured = {"weather": {"wind_speed": "6 mph", "temperature": None}}
    assert BY_KEY["wind_speed"].read(measured, {}, {}) == "6 mph"


def test_a_table_without_directions_leaves_the_question_open(kit: Kit) -> None:
    """Where a rule asks where the wind came from, the entry is held for it; nothing is written in its place."""
    rows = read_table(b"station,time_utc,wind_speed,temp\nXYZ,2026-05-14T14:00Z,6,70\n", "table", "XYZ")
    document, told = fill(kit.book, visit(**NONE), rows, "table", None)
    assert told is not None
    assert "not reported: direction" in told.notes
    assert "wind_from" not in document["weather"]
    outcome = kit.close(**NONE | document["weather"])
    assert outcome.status == "held"
    assert ("missing", "weather.wind_from") in [(one["code"], one["at"]) for one in outcome.findings]
