"""Cases of a station's weather, of gusts, and of air in which spray drifts."""

from __future__ import annotations

from tests.kit import ABSENT
from tests.rules.case import Case, Json
from tests.rules.cases.label import limited

METAR = "KXYZ 141405Z 24006KT 10SM FEW040 21/11 A2992 RMK AO2 T02110108"  # 09:05 in Chicago


def metar(text: str = METAR, **changes: object) -> Json:
    """Return a visit whose weather is a METAR's, but for what is changed."""
    absent = dict.fromkeys(("wind_speed", "wind_from", "temperature", "humidity", "measured_at", "source"), ABSENT)
    return {**absent, "metar": text, **changes}


METER: Json = {"wind_speed": "6 mph", "wind_from": "WSW", "temperature": "70 degF", "source": "meter"}

CASES = [
    # --- station-weather ------------------------------------------------------------------------------------------
    Case(
        "station-weather",
        "the label limits the wind at the site; a station's is asked about",
        metar(),
        metar(**METER, measured_at="2026-05-14T09:05"),
        severity="ask",
        loads=limited(wind="10 mph"),
        at="weather.wind_speed",
        says="of station KXYZ, not measured at the site",
    ),
    Case(
        "station-weather",
        "a temperature of a station beside a wind by meter is noted",
        metar(wind_speed="6 mph", wind_from="WSW", source="meter", measured_at="2026-05-14T09:05", distance="4 mi"),
        metar(**METER, measured_at="2026-05-14T09:05"),
        severity="note",
        at="weather.temperature",
        says="temperature 21.1 degC (70 degF): of station KXYZ, 4 mi away",
    ),
    Case(
        "station-weather",
        "source station as typed, without a name",
        {"source": "station"},
        {"source": "meter"},
        severity="ask",
        loads=limited(wind="10 mph"),
        says="of a station",
    ),
    # --- disagree -------------------------------------------------------------------------------------------------
    Case(
        "disagree",
        "a wind that the METAR it is said to come from does not have; a knot is rounding",
        metar(wind_speed="17 mph"),
        metar(wind_speed="7 mph"),
        at="weather.wind_speed",
        says="the METAR says 6 kn (6.9 mph)",
    ),
    Case(
        "disagree",
        "a direction, half right round",
        metar(wind_from="ENE"),
        metar(wind_from="SW"),
        at="weather.wind_from",
    ),
    Case(
        "disagree",
        "a temperature",
        metar(temperature="75 degF"),
        metar(temperature="70 degF"),
        at="weather.temperature",
    ),
    Case("disagree", "a humidity", metar(humidity="80 %"), metar(humidity="52 %"), at="weather.humidity"),
    Case(
        "disagree",
        "a time of measuring other than the report's",
        metar(measured_at="2026-05-14T09:00"),
        metar(measured_at="2026-05-14T09:05"),
        at="weather.measured_at",
        says="the METAR is of 2026-05-14 09:05",
    ),
    Case(
        "disagree",
        "another station than the report's; EWR and KEWR are one, and a name says nothing",
        metar(station="KABC"),
        metar(station="XYZ"),
        at="weather.station",
    ),
    Case(
        "disagree",
        "a meter and a station far apart ask: a slip of the point (common practice)",
        metar(**METER | {"wind_speed": "18 mph", "measured_at": "2026-05-14T09:05"}),
        metar(**METER | {"wind_speed": "9 mph", "measured_at": "2026-05-14T09:05"}),
        severity="ask",
        says="far apart",
    ),
    Case(
        "disagree",
        "and so do degrees of another scale",
        metar(**METER | {"temperature": "40 degF", "measured_at": "2026-05-14T09:05"}),
        metar(**METER | {"temperature": "60 degF", "measured_at": "2026-05-14T09:05"}),
        severity="ask",
        at="weather.temperature",
    ),
    Case("disagree", "a gust under the wind", {"wind_gust": "3 mph"}, {"wind_gust": "7 mph"}, at="weather.wind_gust"),
    # --- over-wind ------------------------------------------------------------------------------------------------
    Case(
        "over-wind",
        "the steady wind is compared with the label; a gust over it is noted",
        {"wind_gust": "14 mph"},
        {"wind_gust": "9 mph"},
        severity="note",
        loads=limited(wind="10 mph"),
        at="weather.wind_gust",
        says="gusts of 14 mph are over the label's wind line",
    ),
    Case(
        "over-wind",
        "a station's wind over the label stops as any other",
        metar(METAR.replace("24006", "24012")),
        metar(),
        loads=limited(wind="10 mph"),
    ),
    # --- weather-aged ---------------------------------------------------------------------------------------------
    Case(
        "weather-aged",
        "a METAR of two hours before",
        metar(METAR.replace("141405Z", "141205Z")),
        metar(),
        severity="ask",
        at="weather.measured_at",
    ),
    Case(
        "weather-aged",
        "a METAR of a day in another week",
        metar(METAR.replace("141405Z", "081405Z")),
        metar(),
        severity="ask",
        says="6 days before",
    ),
    Case(
        "weather-aged",
        "what a station fills in has an age of its own",
        metar(
            METAR.replace("141405Z", "141205Z"),
            wind_speed="6 mph",
            wind_from="WSW",
            source="meter",
            measured_at="2026-05-14T09:05",
        ),
        metar(wind_speed="6 mph", wind_from="WSW", source="meter", measured_at="2026-05-14T09:05"),
        severity="ask",
        at="weather.metar",
        says="the station reported",
    ),
    # --- not-understood -------------------------------------------------------------------------------------------
    Case("not-understood", "a METAR that is none", metar("breezy"), metar(), at="weather.metar"),
    Case(
        "not-understood",
        "a wind no weather has, in the report (World Meteorological Organization)",
        metar(METAR.replace("24006", "240300")),
        metar(),
        at="weather.metar",
        says="strongest gust ever measured",
    ),
    Case(
        "not-understood",
        "a gust that cannot be",
        {"wind_gust": "1048.36 mph"},
        {"wind_gust": "9 mph"},
        at="weather.wind_gust",
        says="strongest gust ever measured",
    ),
    Case(
        "not-understood", "over 100 % of humidity", {"humidity": "450 %"}, {"humidity": "45 %"}, at="weather.humidity"
    ),
    Case("not-understood", "a distance in hours", {"distance": "2 hours"}, {"distance": "2 mi"}, at="weather.distance"),
    Case("not-understood", "a station beyond the earth", {"distance": "13000 mi"}, {"distance": "6 km"}),
    Case("unit-kind", "a distance by area", {"distance": "2 acres"}, {"distance": "2 miles"}, at="weather.distance"),
    # --- missing --------------------------------------------------------------------------------------------------
    Case(
        "missing",
        "a report without a temperature (common record list)",
        metar("KXYZ 141405Z 24006KT 10SM CLR"),
        metar("KXYZ 141405Z 24006KT 10SM CLR", temperature="70 degF"),
        at="weather.temperature",
    ),
    # --- drift-weather --------------------------------------------------------------------------------------------
    Case(
        "drift-weather",
        "Delta T over 10 degC (Australian Bureau of Meteorology, secondary)",
        {"temperature": "88 degF", "humidity": "30 %"},
        {"temperature": "75 degF", "humidity": "55 %"},
        severity="note",
        at="weather.humidity",
        says="unsuitable",
    ),
    Case(
        "drift-weather",
        "under 3 mph at nine in the morning (pesticidestewardship.org, Evaluate the Weather Conditions)",
        {"wind_speed": "2 mph"},
        {"wind_speed": "3 mph"},
        severity="note",
        at="weather.wind_speed",
        says="may mean an inversion",
    ),
    Case(
        "drift-weather",
        "and at seven, when an inversion may stand",
        {"wind_speed": "2 mph", "started": "2026-05-14T07:10", "measured_at": "2026-05-14T07:05"},
        {"wind_speed": "4 mph", "started": "2026-05-14T07:10", "measured_at": "2026-05-14T07:05"},
        severity="note",
        says="an inversion may hold fine drops",
    ),
]
