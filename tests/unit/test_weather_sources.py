"""Hourly station tables: every row of a real one, joined by its instant; and what no table should hold."""

from __future__ import annotations

import csv
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from records.domain.quantities import parse_speed, parse_temperature
from records.domain.weather import converted, told_value
from records.errors import InputError, NotFoundError, RecordsError, UsageError
from records.services.weather_sources import (
    distance_of,
    moment_of,
    of_metar,
    of_table,
    off_local,
    pick,
    read_table,
    zone_of,
)
from records.services.weather_words import beside_words, source_words

TABLE = Path(__file__).parents[1] / "import_data" / "asos_hourly_ewr_2013.csv"
DATA = TABLE.read_bytes()
ROWS = read_table(DATA, "table", "EWR")
NEW_YORK = ZoneInfo("America/New_York")
HEAD = "origin,time_hour,wind_dir,wind_speed,wind_gust,temp,humid\n"


def made(*rows: str) -> bytes:
    return (HEAD + "\n".join(rows)).encode()


def test_every_row_is_joined_by_its_instant() -> None:
    """2,655 rows: the columns of local time are New York's, row by row, over both changes of the clocks."""
    assert len(ROWS) == 2655
    assert off_local(ROWS, NEW_YORK) == []
    for row in ROWS:
        if not row.problem:
            assert pick(ROWS, row.at, "table") == (row, "0 minutes before")
        local = row.at.astimezone(NEW_YORK)
        assert moment_of(local.isoformat(), NEW_YORK).astimezone(UTC) == row.at
    # Chicago's clock shows the same in one hour of the year: 06:00 UTC, when New York has gone back and it has not.
    assert len(off_local(ROWS, ZoneInfo("America/Chicago"))) == 2654


def test_the_hour_that_comes_twice_has_two_rows() -> None:
    """3 November 2013, 01:00 by the clock: 05:00 and 06:00 UTC. By local time the two are one."""
    twice = [row for row in ROWS if row.local == (2013, 11, 3, 1)]
    assert [f"{row.at:%H:%M}" for row in twice] == ["05:00", "06:00"]
    assert pick(ROWS, moment_of("2013-11-03T01:30-04:00", NEW_YORK), "table")[0] == twice[0]
    assert pick(ROWS, moment_of("2013-11-03T01:30-05:00", NEW_YORK), "table")[0] == twice[1]
    with pytest.raises(UsageError, match="comes twice"):
        moment_of("2013-11-03T01:30", NEW_YORK)


def test_the_hour_that_is_skipped() -> None:
    """10 March 2013: after 01:00 EST comes 03:00 EDT, an hour later."""
    found = [row for row in ROWS if row.local in {(2013, 3, 10, hour) for hour in (1, 2, 3)}]
    assert [(row.local, row.at) for row in found] == [
        ((2013, 3, 10, 1), datetime(2013, 3, 10, 6, tzinfo=UTC)),
        ((2013, 3, 10, 3), datetime(2013, 3, 10, 7, tzinfo=UTC)),
    ]
    with pytest.raises(UsageError, match="is skipped"):
        moment_of("2013-03-10T02:30", NEW_YORK)


def test_where_the_file_itself_errs() -> None:
    """One wind of 1048.36 mph, one hour without a wind, and hours that are not there."""
    assert [row.line for row in ROWS if row.problem] == [269]
    with pytest.raises(InputError, match=r"line 269 \(2013-02-12 08:00 UTC\) is refused: wind speed 1048.36058 mph is"):
        pick(ROWS, moment_of("2013-02-12T03:20", NEW_YORK), "table")
    assert [row.line for row in ROWS if "wind_speed" not in row.weather and not row.problem] == [1311]
    gaps = [row.at for row, after in pairwise(ROWS) if after.at - row.at == timedelta(hours=2)]
    assert len(gaps) == 4
    assert pick(ROWS, gaps[0] + timedelta(minutes=30), "table")[1] == "30 minutes before"
    assert pick(ROWS, gaps[0] + timedelta(minutes=75), "table")[1] == "45 minutes after"


def test_values_are_those_of_the_file() -> None:
    """Speeds are rounded to a hundredth; a direction that the file lacks stays missing, and no wind is calm."""
    with TABLE.open(encoding="utf-8", newline="") as stream:
        raw = list(csv.DictReader(stream))
    kinds = {"calm": 0, "missing": 0}
    for row, line in zip(ROWS, raw, strict=True):
        if row.problem or line["wind_speed"] == "NA":
            continue
        assert abs(float(parse_speed(row.weather["wind_speed"]).value) - float(line["wind_speed"])) <= 0.005
        assert float(parse_temperature(row.weather["temperature"]).value) == pytest.approx(float(line["temp"]))
        assert ("wind_gust" in row.weather) is (line["wind_gust"] != "NA")
        found = row.weather.get("wind_from", "missing")
        if found in kinds:
            kinds[found] += 1
            assert (found == "calm") is (float(line["wind_speed"]) == 0)
        else:
            assert f"({line['wind_dir']} deg)" in found
    assert kinds == {"calm": 164, "missing": 80}


@given(st.integers(0, len(ROWS) - 1), st.integers(0, 59))
def test_an_age_is_that_of_the_row(index: int, minutes: int) -> None:
    row = ROWS[index]
    if not row.problem:
        assert pick(ROWS, row.at + timedelta(minutes=minutes), "table") == (row, f"{minutes} minutes before")


def test_the_block_of_a_moment() -> None:
    told = of_table(ROWS, moment_of("2013-05-03T14:20", NEW_YORK), "table", "4 mi", NEW_YORK)
    assert told.weather == {
        "wind_speed": "5.75 mph",
        "temperature": "60.98 degF",
        "humidity": "44.16 %",
        "measured_at": "2013-05-03T14:00-04:00",
        "source": "station",
        "station": "EWR",
        "distance": "4 mi",
    }
    assert told.age == "20 minutes before"
    assert told.delta_class == "preferred"
    other = of_table(ROWS, told.at, "table", None, ZoneInfo("America/Chicago"))
    assert "its columns of local time are not those of America/Chicago" in " ".join(other.notes)
    assert of_table(ROWS, moment_of("2013-03-27T21:10Z", None), "table").notes[1] == "not reported: wind, direction"


def test_nothing_within_an_hour() -> None:
    with pytest.raises(NotFoundError, match="The nearest is of 2013-11-06 04:00 UTC"):
        pick(ROWS, datetime(2014, 1, 1, tzinfo=UTC), "table")


@pytest.mark.parametrize(
    ("row", "says"),
    [
        ("X,2026-05-14T15:00Z,200,-3,NA,60,50", "below zero"),
        ("X,2026-05-14T15:00Z,200,9,7,60,50", "gust of 7 mph under"),
        ("X,2026-05-14T15:00Z,200,9,400,60,50", "strongest gust"),
        ("X,2026-05-14T15:00Z,370,9,NA,60,50", "over 360"),
        ("X,2026-05-14T15:00Z,-10,9,NA,60,50", "negative"),
        ("X,2026-05-14T15:00Z,200,9,NA,160,50", "hottest"),
        ("X,2026-05-14T15:00Z,200,9,NA,60,150", "over 100"),
        ("X,2026-05-14T15:00Z,200,9,NA,60,0", "cannot be"),
        ("X,2026-05-14T15:00Z,200,1e9,NA,60,50", "no number"),
        ("X,2026-05-14T15:00Z,200,=1+1,NA,60,50", "no number"),
        ("X,2026-05-14T15:00Z,200,9999999,NA,60,50", "no number"),
    ],
)
def test_what_cannot_be_is_refused_with_its_line(row: str, says: str) -> None:
    rows = read_table(made(row), "t.csv", "x")
    with pytest.raises(InputError, match=says) as told:
        pick(rows, rows[0].at, "t.csv")
    assert "t.csv, line 2" in str(told.value)


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"\xff\xfe", "not UTF-8"),
        (b"", "no columns"),
        (b"a,b\n1,2\n", "no columns origin, time_hour and wind_speed"),
        (made("X,2026-05-14T15:00,200,9,NA,60,50"), "no instant with its offset"),
        (made("X,2026-15-14T15:00Z,200,9,NA,60,50"), "no instant with its offset"),
        (made("X,NA,200,9,NA,60,50"), "no instant with its offset"),
        (made('X,2026-05-14T15:00Z,"200'), "no CSV table"),
        (made("X,2026-05-14T15:00Z,1,9,NA,60,50", "X,2026-05-14T11:00-04:00,1,9,NA,60,50"), "lines 2 and 3"),
        (made("Y,2026-05-14T15:00Z,1,9,NA,60,50"), "no station 'X'. It has: Y"),
        (made(), "no station 'X'. It is empty"),
    ],
)
def test_no_such_table(data: bytes, says: str) -> None:
    with pytest.raises(RecordsError, match=says):
        read_table(data, "t.csv", "X")


@given(
    st.binary(max_size=300) | st.text(max_size=300).map(lambda text: HEAD.encode() + text.encode("utf-8", "replace"))
)
@settings(deadline=None)
def test_any_bytes_are_a_table_or_a_line(data: bytes) -> None:
    said = ""
    try:
        read_table(data, "t.csv", "X")
    except RecordsError as error:
        said = str(error)
    assert "\n" not in said


def test_too_many_rows(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("records.services.weather_sources.MAX_ROWS", 2)
    with pytest.raises(InputError, match="more than 2 rows"):
        read_table(made("X,2026-05-14T15:00Z,1,9,NA,60,50", "X,2026-05-14T16:00Z,1,9,NA,60,50"), "t.csv", "X")


def test_short_and_blank_lines() -> None:
    rows = read_table(made("X,2026-05-14T15:00Z,NA,0", "", "X,2026-05-14T16:00Z"), "t.csv", "X")
    assert [row.weather for row in rows] == [{"wind_speed": "0 mph", "wind_from": "calm"}, {}]


def test_places_and_distances() -> None:
    assert distance_of("6 km", None, None) == "6 km"
    assert distance_of(None, None, None) is None
    # Newark airport to a park in Jersey City; 1 degree of latitude is 60 nautical miles near enough: 69 mi.
    assert distance_of(None, "40.6925,-74.1687", "40.74,-74.1") == "4.9 mi"
    assert distance_of(None, "40,-75", " 41 , -75 ") == "69 mi"
    for wrong in (("4 hours", None, None), (None, "40,-75", None), (None, "95,0", "40,-75"), (None, "x", "y")):
        with pytest.raises(UsageError):
            distance_of(*wrong)


@pytest.mark.parametrize("name", ["", "Nowhere/Town", "../../etc/passwd", "America/New_York\0", "a/b/c/d"])
def test_no_such_zone(name: str) -> None:
    with pytest.raises(UsageError, match="no time zone"):
        zone_of(name)


@pytest.mark.parametrize("text", ["2026-05-14T10:00", "yesterday", "yesterdayZ", "2026-02-30T10:00Z"])
def test_no_such_moment(text: str) -> None:
    with pytest.raises(UsageError):
        moment_of(text, None)


def test_of_a_metar() -> None:
    told = of_metar(
        "KXYZ 141453Z 22015G25KT 180V260 10SM SKYOBS 18/16", datetime(2026, 5, 14, 15, tzinfo=UTC), "4 mi", NEW_YORK
    )
    assert dict(told.facts)["wind"] == "15 kn (17.3 mph) from SW (220 deg)"
    assert dict(told.facts)["drifts to"] == "NE"
    assert told.weather == {"metar": "KXYZ 141453Z 22015G25KT 180V260 10SM SKYOBS 18/16", "distance": "4 mi"}
    assert "not understood, left out: SKYOBS" in told.notes
    calm = of_metar("KXYZ 141053Z AUTO 00000KT CLR 18/16", told.at, None, NEW_YORK)
    assert dict(calm.facts)["wind"] == "calm"
    assert "an inversion may hold fine drops" in calm.advice[1].words
    none = of_metar("KXYZ 141053Z COR /////KT 18/16", told.at)
    assert dict(none.facts)["wind"] == "not reported"
    assert none.notes == ("corrected",)


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("15 kn", "15 kn (17.3 mph)"),
        ("5 m/s", "5 m/s (11.2 mph)"),
        ("-3 degC", "-3 degC (26.6 degF)"),
        ("1,000 kn", "1,000 kn (1150.8 mph)"),
        ("6 mph", "6 mph"),
        ("x kn", "x kn"),
        ("kn", "kn"),
        ("9" * 30 + " kn", "9" * 30 + " kn"),
        ("nan kn", "nan kn"),
    ],
)
def test_shown_in_the_units_of_the_trade(text: str, shown: str) -> None:
    assert told_value(text) == shown
    assert bool(converted(text)) is (text != shown)


def test_words_of_a_source() -> None:
    station = {"source": "station", "station": "KXYZ", "distance": "4 mi"}
    assert source_words(station) == "station KXYZ, 4 mi away, not measured at the site"
    assert source_words({"source": "station, carried from 2026-000001", "station": "KXYZ"}) == (
        "station KXYZ, not measured at the site (carried from 2026-000001)"
    )
    assert source_words({"source": "Station EWR"}) == "Station EWR, not measured at the site"
    assert source_words({"source": "meter", "of_station": ["temperature"], "station": "KXYZ"}) == (
        "meter; temperature of station KXYZ, not measured at the site"
    )
    assert source_words({"source": "meter"}) == "meter"
    assert source_words({}) == ""
    assert beside_words({"beside": {"wind_speed": "0 kn", "wind_from": "calm"}}) == "station: calm"
    odd = {"wind_speed": 5, "wind_from": ["W"], "temperature": {}, "measured_at": "noon"}
    assert beside_words({"beside": odd}) == "station: wind 5 from ['W']"
    assert source_words({"source": 5, "of_station": 7, "station": []}) == "5"
    assert beside_words({"beside": {}}) == beside_words({}) == ""


def test_a_direction_that_no_column_tells_stays_missing() -> None:
    """Without a column, or with NA, the wind has no direction: nothing is invented; VRB says variable itself."""
    head = "station,time_utc,wind_speed,wind_dir\n"
    rows = read_table(
        (head + "KXYZ,2026-05-14T14:00Z,6,NA\nKXYZ,2026-05-14T15:00Z,6,VRB\nKXYZ,2026-05-14T16:00Z,0,NA\n").encode(),
        "t.csv",
        "KXYZ",
    )
    assert [row.weather.get("wind_from") for row in rows] == [None, "variable", "calm"]
    (bare,) = read_table(b"station,time_utc,wind_speed\nKXYZ,2026-05-14T14:00Z,6\n", "t.csv", "KXYZ")
    assert "wind_from" not in bare.weather
