"""Weather of a station on the screen, in JSON, at closing, and by questions."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from pypdf import PdfReader

if TYPE_CHECKING:
    from tests.cli.conftest import Swathbook

TABLE = Path(__file__).parents[1] / "import_data" / "asos_hourly_ewr_2013.csv"
METAR = "KXYZ 191405Z AUTO 24006G09KT 10SM CLR 12/M01 A3012 RMK AO2 T01221011"
WORDS = ("weather", "--table", TABLE, "--station", "EWR")
VISITS = Path(__file__).parents[2] / "demo" / "visits"


def _visit(weather: dict[str, Any] | None) -> dict[str, Any]:
    found: dict[str, Any] = json.loads((VISITS / "good.json").read_text("utf-8"))
    return {**found, "weather": weather, "confirmed": ["station-weather"]}


def test_a_moment_of_a_table(swathbook: Swathbook) -> None:
    """Station, age and what it means stand on one screen, with the block to paste."""
    ran = swathbook(*WORDS, "--at", "2013-05-03T14:20", "--zone", "America/New_York", "--distance", "4 mi")
    assert ran.code == 0
    assert "station EWR, 4 mi from the site, 2013-05-03 18:00 UTC" in ran.out
    assert "20 minutes before the time asked for" in ran.out
    assert "Delta T       6.2 degC, preferred" in ran.out
    block = ran.out.partition('"weather": ')[2]
    assert json.loads(block)["wind_speed"] == "5.75 mph"


def test_a_table_in_json(swathbook: Swathbook) -> None:
    ran = swathbook(
        "--json", *WORDS, "--at", "2013-05-03T18:20Z", "--station-at", "40.69,-74.17", "--site-at", "40.7,-74.2"
    )
    assert ran.code == 0
    assert ran.json["weather"]["distance"] == "1.7 mi"
    assert ran.json["age"] == "20 minutes before"
    assert ran.json["delta_t_class"] == "preferred"


def test_a_table_on_stdin(swathbook: Swathbook) -> None:
    ran = swathbook(
        "weather", "--table", "-", "--station", "ewr", "--at", "2013-05-03T18:20Z", stdin=TABLE.read_bytes()
    )
    assert ran.code == 0
    assert "line 2196 of the table" in ran.out


@pytest.mark.parametrize(
    ("words", "code", "says"),
    [
        (("--at", "2013-02-12T08:00Z"), 8, "1048.36058 mph is over the strongest gust ever measured"),
        (("--at", "2014-02-12T08:00Z"), 9, "nothing of EWR within an hour"),
        (("--at", "2013-02-12T08:00"), 2, "has no offset"),
        (("--at", "2013-11-03T01:30", "--zone", "America/New_York"), 2, "comes twice"),
        (("--at", "2013-11-03T01:30", "--zone", "America/New_York"), 2, "2013-11-03T01:30-05:00\n"),
        (("--at", "2013-02-12T08:00Z", "--zone", "Mars"), 2, "no time zone"),
        (("--at", "2013-02-12T08:00Z", "--distance", "far"), 2, "does not begin with a number"),
        (("--at", "2013-02-12T08:00Z", "--site-at", "1,1"), 2, "go together"),
        ((), 2, "a table needs --table, --station and --at"),
    ],
    ids=["impossible", "no hour", "no offset", "twice", "twice, example", "zone", "distance", "one place", "no time"],
)
def test_refused_in_one_line(words: tuple[str, ...], code: int, says: str, swathbook: Swathbook) -> None:
    ran = swathbook(*WORDS, *words)
    assert (ran.code, ran.out) == (code, "")
    assert says in ran.err
    assert ran.err.count("\n") == 1


def test_dry_air_is_told_once(swathbook: Swathbook) -> None:
    """The words of Delta T stand with the advice alone; a direction that the table lacks is in no block to paste."""
    table = "station,time_utc,wind_dir,wind_speed,temp,humid\nQQQ,2026-10-19T14:00:00Z,NA,25,80,20\n"
    ran = swathbook("weather", "--table", "-", "--station", "QQQ", "--at", "2026-10-19T14:00Z", stdin=table)
    told = " ".join(ran.out.split())
    assert told.count("drops dry before they reach the leaf") == 1
    assert "note wind 25 mph is over 15 mph, where labels commonly stop: wait, unless the label says otherwise" in told
    assert "25 mph, direction not reported" in told
    assert '"wind_from"' not in ran.out


def test_a_metar(swathbook: Swathbook) -> None:
    """A dawn without wind under a clear sky: advice with its sources."""
    ran = swathbook(
        "weather", "metar", METAR.replace("24006G09", "00000").replace("191405", "191205"), "--zone", "America/Chicago"
    )
    assert ran.code == 0
    assert "station KXYZ, 2026-10-19 12:05 UTC (2026-10-19 07:05 local)" in ran.out
    assert "an inversion may" in ran.out
    assert "pesticidestewardship.org" in ran.out
    ran = swathbook("weather", "metar", METAR, "--on", "2020-02-20", "--distance", "4 mi")
    assert "2020-02-19 14:05 UTC" in ran.out
    assert '"distance": "4 mi"' in ran.out


def test_a_metar_in_json(swathbook: Swathbook) -> None:
    ran = swathbook("--json", "weather", "metar", *METAR.split())
    assert ran.json["weather"] == {"metar": METAR}
    assert ran.json["decoded"] == {
        "wind_speed": "6 kn",
        "wind_from": "WSW (240 deg)",
        "wind_gust": "9 kn",
        "temperature": "12.2 degC",
        "dew_point": "-1.1 degC",
        "wind_range": None,
        "humidity": "39.7 %",
        "visibility": "10 mi",
        "automated": True,
        "corrected": False,
        "unread": [],
    }


@pytest.mark.parametrize("text", ["breezy", "KXYZ 141453Z 22015KT\x1b[2J", "K" * 5000, "=cmd|' /C calc'!A0"])
def test_a_metar_that_is_none(text: str, swathbook: Swathbook) -> None:
    ran = swathbook("weather", "metar", text)
    assert (ran.code, ran.out) == (8, "")
    assert ran.err.count("\n") == 1
    assert "METAR" in ran.err


def _sealed(swathbook: Swathbook, firm: Path, tmp_path: Path, weather: dict[str, Any] | None) -> str:
    file = tmp_path / "visit.json"
    file.write_text(json.dumps(_visit(weather)), "utf-8")
    ran = swathbook("--book", firm, "--json", "close", file)
    assert ran.code == 0, ran.out
    return str(ran.json["serial"])


def test_a_stations_value_is_called_so_everywhere(swathbook: Swathbook, firm: Path, tmp_path: Path) -> None:
    """On the record, on the notice and in the packet."""
    serial = _sealed(swathbook, firm, tmp_path, {"metar": METAR, "distance": "4 mi"})
    shown = " ".join(swathbook("--book", firm, "show", serial).out.split())
    assert "wind 6 kn (6.9 mph) from WSW (240 deg), gusts 9 kn (10.4 mph)" in shown
    assert "station KXYZ, 4 mi away, not measured at the site" in shown
    assert f"METAR: {METAR}" in shown
    assert swathbook("--book", firm, "notice", serial, "--out", tmp_path / "n.pdf").code == 0
    text = " ".join(PdfReader(tmp_path / "n.pdf").pages[0].extract_text().split())
    assert "6.9 mph" in text
    assert "(weather station KXYZ)" in text
    packet = tmp_path / "p.json"
    assert swathbook("--book", firm, "inspect", "--from", "2026-10-01", "--to", "2026-10-31", "--out", packet).code == 0
    assert "station KXYZ, 4 mi away, not measured at the site" in packet.read_text("utf-8")


def test_a_meter_beside_a_station(swathbook: Swathbook, firm: Path, tmp_path: Path) -> None:
    meter = {"wind_speed": "5 mph", "wind_from": "W", "temperature": "54 degF", "source": "meter"}
    serial = _sealed(swathbook, firm, tmp_path, {**meter, "measured_at": "2026-10-19T09:05", "metar": METAR})
    shown = " ".join(swathbook("--book", firm, "show", serial).out.split())
    assert "wind 5 mph from W" in shown
    assert "by meter" in shown
    assert "station KXYZ at 09:05: wind 6 kn (6.9 mph) from WSW (240 deg)" in shown


def test_closing_with_a_table(swathbook: Swathbook, firm: Path, tmp_path: Path) -> None:
    """What was not measured is filled and told; what cannot be used is said."""
    table = tmp_path / "hours.csv"
    head = "station,time_utc,wind_dir,wind_speed,temp,humid\n"
    table.write_text(f"{head}QQQ,2026-10-19T14:00:00Z,240,6.9,54,45\nQQQ,2026-10-18T14:00:00Z,240,600,54,45\n", "utf-8")
    words = ("--station-table", table, "--station", "QQQ", "--distance", "6 km")
    file = tmp_path / "visit.json"
    file.write_text(json.dumps(_visit(None)), "utf-8")
    ran = swathbook("--book", firm, "close", file, *words)
    assert ran.code == 0, ran.out
    assert "weather of station QQQ, 10 minutes before the start, stands in for what was not measured" in ran.err
    assert "station QQQ, 6 km away" in " ".join(swathbook("--book", firm, "show", "2026-000001").out.split())
    again = swathbook("--book", firm, "--json", "close", file, *words)
    assert again.json["serial"] == "2026-000001"  # the same entry and table: nothing is written twice
    measured = _visit({"wind_speed": "5 mph", "wind_from": "W", "temperature": "54 degF"}) | {"ref": "other"}
    file.write_text(json.dumps(measured), "utf-8")
    assert "the entry has its own" in swathbook("--book", firm, "close", file, *words).err
    file.write_text(json.dumps(_visit(None) | {"started": "2026-10-18T09:10", "ref": "third"}), "utf-8")
    ran = swathbook("--book", firm, "close", file, *words)
    assert ran.code == 1
    assert "no weather was taken from the table" in ran.err
    assert "strongest gust" in " ".join(ran.err.split())
    for wrong in (("--station", "QQQ"), ("--station-table", table)):
        assert swathbook("--book", firm, "close", file, *wrong).code == 2
    assert swathbook("--book", firm, "close", "--station-table", table, "--station", "QQQ").code == 2


PLACE = ["lark", "mo", "9:10", ""]  # site, person, start, end as offered
REST = ["front", "b", "ground ivy", "skid-1", "", "", "", "brindle-4l", "1.1 fl oz/M", "B2311", "", "", "", "", ""]


def test_a_metar_at_the_question_for_the_wind(swathbook: Swathbook, firm: Path) -> None:
    """It takes the place of the readings; what it says and advises is told, its distance asked."""
    answers = [*PLACE, METAR.lower(), "4", *REST, "y"]
    at = "2026-10-19T09:40-05:00"
    ran = swathbook("--book", firm, "close", stdin="".join(f"{one}\n" for one in answers), at=at)
    assert ran.code == 0, ran.out + ran.err
    told = " ".join(ran.err.split())
    assert "station KXYZ, 2026-10-19 14:05 UTC: wind 6 kn (6.9 mph) from WSW (240 deg)" in told
    assert "wind 6.9 mph from WSW (240 deg), gusts 10.4 mph, 54 degF: station KXYZ, 2026-10-19 09:05 local time" in told
    assert f"METAR {METAR}" in told  # all of it
    body = swathbook("--book", firm, "show", "2026-1", "--json").json["revisions"][0]["body"]
    assert body["document"]["weather"] == {"metar": METAR, "distance": "4 mi"}
    assert body["weather"]["source"] == "station"


@pytest.mark.parametrize(
    ("typed", "also", "told"),
    [
        ("6 nw 61", [], {"wind_speed": "6 mph", "wind_from": "NW", "temperature": "61 degF"}),
        ("6 mph NW 61 F", [], {"wind_speed": "6 mph", "wind_from": "NW", "temperature": "61 degF"}),
        ("3 m/s from the sw, 16C", [], {"wind_speed": "3 m/s", "wind_from": "SW", "temperature": "16 degC"}),
        ("6 315 61", [], {"wind_speed": "6 mph", "wind_from": "NW (315 deg)", "temperature": "61 degF"}),
        ("6 nw", ["61"], {"wind_speed": "6 mph", "wind_from": "NW", "temperature": "61 degF"}),
        ("6, 61 F", ["nw"], {"wind_speed": "6 mph", "wind_from": "NW", "temperature": "61 degF"}),
        ("0 61", [], {"wind_speed": "0 mph", "wind_from": "calm", "temperature": "61 degF"}),
        ("0", ["61"], {"wind_speed": "0 mph", "wind_from": "calm", "temperature": "61 degF"}),
    ],
)
def test_a_whole_reading_in_one_answer(
    typed: str, also: list[str], told: dict[str, str], swathbook: Swathbook, firm: Path
) -> None:
    """Wind, direction and temperature together; what is left out is asked for as before."""
    answers = [*PLACE, "6 61", "0 nw 61", "6 quux 61", typed, *also, "", "", "front"]
    at = "2026-10-19T09:40-05:00"
    ran = swathbook("--book", firm, "close", stdin="".join(f"{one}\n" for one in answers), at=at)
    words = " ".join(ran.err.split())
    assert "is 61 degrees or degF?" in words
    assert "calm goes with 0 and only with it" in words
    assert "'quux' is none of the 16 points" in words
    document = swathbook("--book", firm, "held", "show", "1", "--json").json["document"]
    assert {key: document["weather"][key] for key in told} == told
    assert document["treatments"][0]["zones"] == ["front"]


def test_a_metar_without_a_temperature_leaves_one_to_measure(swathbook: Swathbook, firm: Path) -> None:
    """And one without a wind is no answer to the question for the wind."""
    answers = [*PLACE, "KXYZ 191405Z 12/M01", "KXYZ 191405Z 99/", "KXYZ 191405Z 24006KT 10SM", "", "54", "", ""]
    at = "2026-10-19T09:40-05:00"
    ran = swathbook("--book", firm, "close", stdin="".join(f"{one}\n" for one in [*answers, *REST, "y"]), at=at)
    assert ran.code == 0, ran.out + ran.err
    assert "that report has no wind; measure it, or paste another" in ran.err
    weather = swathbook("--book", firm, "show", "2026-1", "--json").json["revisions"][0]["body"]["weather"]
    assert (weather["source"], weather["of_station"]) == ("meter", ["wind_speed", "wind_from"])
    assert (weather["wind_speed"], weather["temperature"]) == ("6 kn", "54 degF")


@pytest.mark.parametrize("code", ["station-weather", "drift-weather"])
def test_why_says_what_the_codes_mean(code: str, swathbook: Swathbook) -> None:
    ran = swathbook("why", code)
    assert ran.code == 0
    assert "station" in ran.out or "Delta T" in ran.out


@pytest.mark.parametrize("part", ["metar", "station", "distance", "wind_gust"])
def test_why_says_what_the_parts_are_for(part: str, swathbook: Swathbook) -> None:
    assert swathbook("why", f"weather.{part}").code == 0
