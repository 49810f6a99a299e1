"""Cases of when: future, order, lateness, the age of the weather, clock changes, the same day, resistance groups."""

from __future__ import annotations

from tests.kit import ABSENT, SITES
from tests.rules.case import Case, twice

LOW = {"rate": "0.5 fl oz/1000 sq ft"}
HALF = {"rate": "0.25 fl oz/1000 sq ft"}
SPRING, AUTUMN = "2026-03-08", "2026-11-01"  # clocks change at 02:00 in Chicago


def at(day: str, start: str, end: str, measured: str | None = None, now: str = "20:00") -> dict[str, object]:
    """Return a visit at these times of a day."""
    made: dict[str, object] = {
        "on": day,
        "started": f"{day}T{start}",
        "finished": f"{day}T{end}",
        "measured_at": f"{day}T{measured or start}",
    }
    return made | {"now": f"{day}T{now}"}


CASES = [
    Case(
        "future-date",
        "a start that has not come yet; five minutes of clock difference are passed over",
        at("2026-05-14", "09:00", "09:06", now="08:54"),
        at("2026-05-14", "08:50", "08:59", now="08:54"),
        at="started",
    ),
    Case(
        "future-date",
        "next year's date in an entry of today",
        {"on": "2027-05-14", "now": "2026-05-14T12:00"},
        {"on": "2026-05-13", "now": "2026-05-14T12:00"},
    ),
    Case(
        "clock-order",
        "the end before the start",
        at("2026-05-14", "09:30", "09:10"),
        at("2026-05-14", "09:10", "09:30"),
    ),
    Case(
        "clock-order",
        "a visit of more than 16 hours is two days in one record",
        {"started": "2026-05-13T06:00", "finished": "2026-05-13T22:01", "measured_at": "2026-05-13T06:00"},
        {"started": "2026-05-13T06:00", "finished": "2026-05-13T22:00", "measured_at": "2026-05-13T06:00"},
    ),
    Case(
        "clock-order",
        "autumn clock change: 01:50 -05:00 to 01:10 -06:00 is twenty minutes; the other way round is not",
        at(AUTUMN, "01:10-06:00", "01:50-05:00"),
        at(AUTUMN, "01:50-05:00", "01:10-06:00"),
    ),
    Case(
        "not-understood",
        "02:30 is skipped on 8 March 2026 in Chicago: the offset has to be written",
        at(SPRING, "02:30", "03:30"),
        at(SPRING, "02:30-06:00", "03:50"),
        at="started",
        says="is skipped when the clocks change; write the offset too: 2026-03-08T02:30-06:00",
    ),
    Case(
        "not-understood",
        "01:30 comes twice on 1 November 2026 in Chicago",
        at(AUTUMN, "00:50", "01:30"),
        at(AUTUMN, "00:50", "01:30-06:00"),
        at="finished",
        says="2026-11-01T01:30-05:00 or 2026-11-01T01:30-06:00",
    ),
    Case(
        "weather-aged",
        "61 minutes before the start asks, 60 do not (common practice)",
        at("2026-05-14", "10:01", "10:30", "09:00"),
        at("2026-05-14", "10:00", "10:30", "09:00"),
        severity="ask",
        says="61 minutes before the start",
    ),
    Case(
        "unlikely-amount",
        "60 mph where 6 mph was meant: over 25 mph nobody sprays (common practice)",
        {"wind_speed": "60 mph"},
        {"wind_speed": "6 mph"},
        severity="ask",
        says="wind 60 mph is over 25 mph",
    ),
    Case(
        "unlikely-amount",
        "7 degF where 70 degF was meant; frost of the morning is not asked about",
        {"temperature": "7 degF"},
        {"temperature": "31 degF"},
        severity="ask",
        at="weather.temperature",
        says="temperature 7 degF is under 20 degF",
    ),
    Case(
        "unlikely-amount",
        "45 degC is over 110 degF, 43 degC is within it",
        {"temperature": "45 degC"},
        {"temperature": "43 degC"},
        severity="ask",
        at="weather.temperature",
        says="temperature 45 degC is over 110 degF",
    ),
    Case(
        "weather-aged",
        "an age of hours is told in hours",
        at("2026-05-14", "15:00", "15:30", "09:00"),
        at("2026-05-14", "15:00", "15:30", "14:00"),
        severity="ask",
        says="measured 6 hours before the start",
    ),
    Case(
        "weather-aged",
        "and one of days in days: last year's date",
        at("2026-05-14", "15:00", "15:30") | {"measured_at": "2025-05-14T15:00"},
        at("2026-05-14", "15:00", "15:30"),
        severity="ask",
        says="measured 365 days before the start",
    ),
    Case(
        "weather-aged",
        "half a minute more than an hour is more than an hour",
        at("2026-05-14", "10:00:30", "10:30", "09:00"),
        at("2026-05-14", "10:00:00", "10:30", "09:00"),
        severity="ask",
        says="61 minutes",
    ),
    Case(
        "weather-aged",
        "61 minutes after the end asks, 60 do not",
        at("2026-05-14", "09:00", "09:30", "10:31"),
        at("2026-05-14", "09:00", "09:30", "10:30"),
        severity="ask",
        says="61 minutes after the end",
    ),
    Case(
        "weather-aged",
        "spring clock change: from 01:30 to 03:10 are forty minutes, to 03:31 sixty-one",
        at(SPRING, "03:31", "03:50", "01:30"),
        at(SPRING, "03:10", "03:50", "01:30"),
        severity="ask",
        says="61 minutes",
    ),
    Case(
        "weather-aged",
        "autumn clock change: from 01:40 to 02:10 are ninety minutes when the first 01:40 is meant",
        at(AUTUMN, "02:10", "02:30", "01:40-05:00"),
        at(AUTUMN, "02:10", "02:30", "01:40-06:00"),
        severity="ask",
        says="90 minutes",
    ),
    Case(
        "late",
        "entered on a later local day: a note, and the days are kept (Wis. Adm. Code ATCP 29.21)",
        {"now": "2026-05-15T00:05"},
        {"now": "2026-05-14T23:55"},
        severity="note",
        says="entered 1 day after the work, 5 minutes past the time of common",
    ),
    Case(
        "late",
        "days are the site's, not UTC's: 23:30 in Minnesota is tomorrow in UTC",
        {"now": "2026-05-17T08:00"},
        at("2026-05-14", "22:50", "23:10", now="23:30"),
        severity="note",
        says="entered 3 days after the work, 2 days past the time of common",
    ),
    Case(
        "same-day",
        "a second visit at a site on one day asks: another technician, or the first one entered twice",
        LOW,
        {"site": "dock-2", "applicator": "olga"} | LOW,
        severity="ask",
        past=(HALF,),
        says="2026-000001 by Ruth Sandahl",
    ),
    Case(
        "same-day",
        "the day after is another day",
        LOW,
        {"on": "2026-05-15"} | LOW,
        severity="ask",
        past=(HALF,),
    ),
    Case(
        "group-repeat",
        "the third time in a row with one mode of action (common practice, HRAC groups)",
        {"on": "2026-06-01"} | LOW,
        {"on": "2026-06-01", "product": "torvane-r", "rate": "1 fl oz/1000 sq ft"},
        severity="note",
        past=twice(LOW),
        says="group 4 on front for the 3rd time in a row",
    ),
    Case(
        "group-repeat",
        "another group in between breaks the row",
        {"on": "2026-06-01"} | LOW,
        {"on": "2026-06-01", "zones": ["side"], "area": "1000 sq ft"} | LOW,
        severity="note",
        past=twice(LOW),
    ),
    Case(
        "group-repeat",
        "two in a row are no row yet, and a shared group counts across products",
        {"on": "2026-06-01", "product": "ambrel-g", "rate": "3 lb/1000 sq ft"},
        {"on": "2026-04-10", "product": "ambrel-g", "rate": "3 lb/1000 sq ft"},
        severity="note",
        past=({"on": "2026-03-01"} | LOW, {"on": "2026-05-01"} | LOW),
    ),
    Case(
        "unlikely-amount",
        "5.1 times the median of five earlier visits asks, 4.9 times does not (measured, domain/unlikely.py)",
        {"on": "2026-08-01", "rate": "0.51 fl oz/1000 sq ft"},
        {"on": "2026-08-01", "rate": "0.49 fl oz/1000 sq ft"},
        severity="ask",
        past=twice({"rate": "0.10 fl oz/1000 sq ft"}, 5),
        says="5.1 times more per area",
    ),
    Case(
        "unlikely-amount",
        "a fifth and less is as unlikely: 0.09 after 0.5 is 5.6 times less",
        {"on": "2026-08-01", "rate": "0.09 fl oz/1000 sq ft"},
        {"on": "2026-08-01", "rate": "0.11 fl oz/1000 sq ft"},
        severity="ask",
        past=twice(LOW, 5),
        says="5.6 times less per area",
    ),
    Case(
        "unlikely-amount",
        "a broadcast on next to none of the zone: 0.09 M of 4,000 sq ft is acres or thousands in the wrong place",
        {"area": "0.09 M"},
        {"area": "0.1 M"},
        severity="ask",
        at="treatments[0].area",
    ),
    Case(
        "missing",
        "the times themselves",
        {"started": ABSENT},
        {},
        at="started",
    ),
    Case(
        "not-notified",
        "a listed neighbour has to be told of this very day (7 Pa. Code 128.112 and its like; the site's list)",
        {},
        {"on": "2026-08-03"},
        severity="ask",
        at="site",
        loads={
            "sites": [SITES[0] | {"notify": [{"id": "vik", "name": "Vik Osei", "why": "registry", "to": "2026-07-31"}]}]
        },
        says="no contact is logged for this day",
    ),
]
