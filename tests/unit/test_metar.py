"""A pasted METAR: decoded, or refused in one line."""

from __future__ import annotations

import time
from datetime import UTC, datetime
from fractions import Fraction

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from records.domain.numerals import QuantityError
from records.services.metar import MAX_METAR, MetarError, decode, is_metar

NEAR = datetime(2026, 5, 14, 15, tzinfo=UTC)
WHOLE = "KXYZ 141453Z AUTO 22015G25KT 180V260 10SM CLR 18/16 A2992 RMK AO2 SLP045 T01820159="


def test_all_of_it() -> None:
    report = decode(f"METAR\n {WHOLE.lower()} ", NEAR)
    assert report.text == f"METAR {WHOLE[:-1]}"
    assert (report.station, report.at) == ("KXYZ", datetime(2026, 5, 14, 14, 53, tzinfo=UTC))
    assert str(report.wind_speed) == "15 kn"
    assert str(report.wind_from) == "SW (220 deg)"
    assert str(report.wind_gust) == "25 kn"
    assert report.wind_range == (180, 260)
    assert (str(report.temperature), str(report.dew_point)) == ("18.2 degC", "15.9 degC")
    assert report.temperature is not None
    assert report.temperature.half == Fraction(1, 20)
    assert report.humidity_text == "86.4 %"
    assert report.visibility == "10 mi"
    assert (report.is_clear, report.is_automated, report.is_corrected) == (True, True, False)
    assert report.unread == ()


@pytest.mark.parametrize(
    ("group", "speed", "direction"),
    [
        ("00000KT", "0 kn", "calm"),
        ("00000MPS", "0 m/s", "calm"),
        ("VRB03KT", "3 kn", "variable"),
        ("VRB00KT", "0 kn", "calm"),
        ("36005KT", "5 kn", "N (360 deg)"),
        ("22005MPS", "5 m/s", "SW (220 deg)"),
        ("09018KMH", "18 km/h", "E (90 deg)"),
        ("270100KT", "100 kn", "W (270 deg)"),
    ],
)
def test_winds(group: str, speed: str, direction: str) -> None:
    report = decode(f"KXYZ 141453Z {group} 18/16", NEAR)
    assert (str(report.wind_speed), str(report.wind_from)) == (speed, direction)


@pytest.mark.parametrize(
    ("group", "air", "dew"),
    [
        ("18/16", "18 degC", "16 degC"),
        ("M03/M11", "-3 degC", "-11 degC"),
        ("00/M00", "0 degC", "0 degC"),
        ("18/", "18 degC", None),
        ("18/// T0182", "18.2 degC", None),
        ("M01/M02 T10061022", "-0.6 degC", "-2.2 degC"),
        ("02/02 T00220017", "2.2 degC", "1.7 degC"),
        ("18/16 T0182", "18.2 degC", "16 degC"),
    ],
)
def test_temperatures(group: str, air: str, dew: str | None) -> None:
    report = decode(f"KXYZ 141453Z 22005KT {group}", NEAR)
    assert str(report.temperature) == air
    assert (None if report.dew_point is None else str(report.dew_point)) == dew


@pytest.mark.parametrize(
    ("groups", "seen"),
    [
        ("1 1/2SM", "1.5 mi"),
        ("M1/4SM", "under 0.25 mi"),
        ("P6SM", "over 6 mi"),
        ("4000", "4000 m"),
        ("9999", "10 km or more"),
        ("CAVOK", "10 km or more"),
        ("5KM", "5 km"),
        ("", ""),
    ],
)
def test_visibility(groups: str, seen: str) -> None:
    assert decode(f"KXYZ 141453Z 22005KT {groups} 18/16", NEAR).visibility == seen


@pytest.mark.parametrize(
    ("near", "group", "found"),
    [
        ("2026-05-14T15:00+00:00", "141453Z", "2026-05-14T14:53"),
        ("2026-06-01T00:30+00:00", "312353Z", "2026-05-31T23:53"),  # the day before the first
        ("2026-05-31T23:50+00:00", "010005Z", "2026-06-01T00:05"),  # the day after the last
        ("2026-01-01T01:00+00:00", "312353Z", "2025-12-31T23:53"),
        ("2025-12-31T22:30-05:00", "010253Z", "2026-01-01T02:53"),  # already next year in UTC
        ("2026-03-01T02:00+00:00", "282353Z", "2026-02-28T23:53"),
        ("2028-03-01T02:00+00:00", "292353Z", "2028-02-29T23:53"),
        ("2026-03-01T02:00+00:00", "312353Z", "2026-03-31T23:53"),  # no 31 February: the nearest there is
        ("2026-05-31T12:00+00:00", "301200Z", "2026-05-30T12:00"),
    ],
)
def test_month_and_year_come_from_the_visit(near: str, group: str, found: str) -> None:
    report = decode(f"KXYZ {group} 22005KT", datetime.fromisoformat(near))
    assert report.at == datetime.fromisoformat(f"{found}+00:00")


@given(st.datetimes(datetime(1990, 1, 1), datetime(2100, 1, 1)), st.integers(-72, 72))  # noqa: DTZ001 - zone below
def test_a_report_within_three_days_is_found_again(near: datetime, hours: int) -> None:
    moment = near.replace(second=0, microsecond=0, tzinfo=UTC)
    at = datetime.fromtimestamp(moment.timestamp() + hours * 3600, UTC)
    assert decode(f"KXYZ {at:%d%H%M}Z 22005KT", moment).at == at


@pytest.mark.parametrize("mark", ["COR", "CORR", "CCA"])
def test_corrected(mark: str) -> None:
    assert decode(f"KXYZ 141453Z {mark} 22005KT 18/16", NEAR).is_corrected


def test_marks_before_the_station_and_both() -> None:
    assert decode("METAR COR KXYZ 141453Z 22005KT 18/16", NEAR).is_corrected
    both = decode("KXYZ 141453Z COR AUTO 10008KT 10SM CLR 19/11 A2986", NEAR)
    assert both.is_corrected
    assert both.is_automated


def test_what_is_not_understood_is_named() -> None:
    report = decode("KXYZ 141453Z 22005KT 10SM SKYOBS 18/16 é".replace(" é", " #1"), NEAR)
    assert set(report.unread) == {"SKYOBS", "#1"}
    assert str(report.wind_speed) == "5 kn"


def test_a_forecast_behind_the_report_is_left_alone() -> None:
    report = decode("KXYZ 141453Z 22005KT 18/16 Q1013 TEMPO 24030G45KT 3000 TSRA", NEAR)
    assert str(report.wind_speed) == "5 kn"
    assert report.wind_gust is None


def test_no_wind_reported() -> None:
    report = decode("KXYZ 141453Z /////KT 10SM SKYOBS 18/16", NEAR)
    assert report.wind_speed is None
    assert report.temperature is not None
    assert report.is_clear is None


def test_cloud() -> None:
    assert decode("KXYZ 141453Z 22005KT 10SM FEW040 18/16", NEAR).is_clear
    assert decode("KXYZ 141453Z 22005KT 10SM FEW040 BKN080 18/16", NEAR).is_clear is False
    assert decode("KXYZ 141453Z 22005KT CAVOK 18/16", NEAR).is_clear


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (None, "is not text"),
        (15, "is not text"),
        ("", "is empty"),
        (" = ", "is empty"),
        ("K" * (MAX_METAR + 1), "601 characters long"),
        ("KXYZ 141453Z 22005KT\x1b[31m", "characters that no report has"),
        ("KXYZ 141453Z 22005KT é", "characters that no report has"),
        ("the wind was from the west", "does not begin with a station"),
        ("KXYZ 321453Z 22005KT", "no day of a month"),
        ("KXYZ 142553Z 22005KT", "no day of a month"),
        ("KXYZ 141453Z NIL", "reports nothing"),
        ("KXYZ 141453Z", "reports nothing"),
        ("KXYZ 141453Z 22005KT KABC 141453Z 22005KT", "more than one report"),
        ("KXYZ 141453Z 22005KT 24009KT", "two winds"),
        ("KXYZ 141453Z 22005KT 18/16 T01820159 T01830159", "two groups of tenths"),
        ("KXYZ 141453Z 22015 10SM", "no wind such as 22015KT"),
        ("KXYZ 141453Z 25005KY 10SM", "'25005KY' was not understood"),
        ("KXYZ 141453Z 10SM CLR", "neither wind nor temperature"),
        ("KXYZ 141453Z 22P99KT 18/16", "no wind such as"),
        ("KXYZ 141453Z 220P99KT 18/16", "over 99"),
        ("KXYZ 141453Z 22099GP99KT 18/16", "gust is over 99"),
        ("KXYZ 141453Z 22025G15KT 18/16", "gust under the wind"),
        ("KXYZ 141453Z 22000KT 18/16", "direction without a wind"),
        ("KXYZ 141453Z 00005KT 18/16", "a north wind is 360"),
        ("KXYZ 141453Z 37005KT 18/16", "cannot be read; paste the report"),
        ("KXYZ 141453Z 220300KT 18/16", "strongest gust ever measured"),
        ("KXYZ 141453Z 22015KT 180V370 18/16", "cannot be read; paste the report"),
        ("KXYZ 141453Z 22015KT 1/0SM", "cannot be read; paste the report"),
        ("KXYZ 141453Z 22015KT 18/26", "cannot be"),
        ("KXYZ 141453Z 22015KT 80/60", "hottest air"),
        ("KXYZ 141453Z 10SM 18/16 A2992 22015KT", "out of its place"),
    ],
)
def test_refused_in_one_line(text: object, says: str) -> None:
    with pytest.raises(MetarError) as told:
        decode(text, NEAR)
    assert says in str(told.value)
    assert "\n" not in str(told.value)


@pytest.mark.parametrize(
    "text",
    [
        "partly cloudy",
        "KXYZ 141453Z 22015 10SM",
        "KXYZ 141453Z 10SM CLR",
        "KXYZ 141453Z 37005KT 18/16",
        "KXYZ 141453Z 22015KT 370V010 18/16",
        "KXYZ 141453Z 220300KT 18/16",
        "KXYZ 141453Z 22015KT 18/26",
        "KXYZ 141453Z 22015KT 80/60",
    ],
)
def test_a_refusal_says_what_to_do(text: str) -> None:
    """In the tool's own words: nothing of the library that reads it."""
    with pytest.raises(MetarError, match=r"or type the reading by hand$") as told:
        decode(text, NEAR)
    assert not any(word in str(told.value) for word in ("Error", "handler", "Unparsed", "processing"))


@pytest.mark.parametrize(
    ("text", "is_one"),
    [(WHOLE, True), ("metar kxyz", True), ("KXYZ 141453Z", True), ("6", False), ("6 mph", False), ("", False)],
)
def test_telling_one_from_a_wind(text: str, is_one: bool) -> None:  # noqa: FBT001 - a table
    assert is_metar(text) is is_one


_ODD = """
KABC 00000KT VRB03KT /////KT M1/4SM 1/0SM TEMPO NOSIG BLACKBLU LTG TS OHD DSNT AND COR NIL CAVOK T1999 4/999 99/99
EEEEEEEEEEEEEEEEEEEE R28L/2600FT 88421594 //////////////////// -+-+-+-+ T99999999 M99/M99
"""
_GROUPS = st.sampled_from([*WHOLE.split(), *_ODD.split(), "WS ALL RWY", "PK WND 28045/15"])
_HOSTILE = st.one_of(
    st.text(max_size=MAX_METAR),
    st.lists(_GROUPS, max_size=40).map(" ".join),
    st.lists(_GROUPS, max_size=40).map(lambda groups: " ".join(["KXYZ", "141453Z", *groups])),
    st.text("ENSW -AND/+VC0123456789", max_size=MAX_METAR).map(lambda text: f"KXYZ 141453Z 22005KT {text}"),
)


@given(_HOSTILE, st.datetimes(datetime(1971, 1, 1), datetime(2199, 1, 1)))  # noqa: DTZ001 - zone below
@example("KXYZ 141453Z 22005KT A2992 RMK LTG " + "E" * 500, NEAR.replace(tzinfo=None))
@example("KXYZ 141453Z 22005KT A2992 LTGIC " + "E" * 500, NEAR.replace(tzinfo=None))
@example("KXYZ 141453Z 22005KT A2992 TS " + "NE" * 250, NEAR.replace(tzinfo=None))
@example("KXYZ 141453Z " + "/" * 500, NEAR.replace(tzinfo=None))
@example("KXYZ 141453Z 22005KT " + "1 " * 280, NEAR.replace(tzinfo=None))
@settings(max_examples=400, deadline=None)
def test_any_text_yields_a_reading_or_a_line_and_quickly(text: str, near: datetime) -> None:
    started = time.process_time()
    found, said = None, ""
    try:
        found = decode(text, near.replace(tzinfo=UTC))
    except QuantityError as error:
        said = str(error)
    assert bool(said) is (found is None)
    assert said.isprintable()
    assert len(said) < 400
    assert found is None or found.humidity is None or 0 < found.humidity <= 100
    assert time.process_time() - started < 2  # a hundredth in truth; a slow machine has room
