"""Clocks of rules and licences: daylight saving, leap days, last days, and the zone's own midnight.

Changes of the clock in America/Chicago: 2026-03-08 02:00 becomes 03:00, 2026-11-01 02:00 becomes 01:00 (15 USC 260a:
second Sunday of March, first Sunday of November). Spans: Minn. Stat. 18B.37 subd. 2 (5 days), 7 Pa. Code 128.35(d)
(24 hours), 02 NCAC 09L .1402 (72 hours), Fla. 5E-9.032 (2 working days), ATCP 29.21 (the same day).
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import pytest
from freezegun import freeze_time
from hypothesis import given
from hypothesis import strategies as st

from records.clock import SystemClock
from records.domain.people import Licence, LicenceKind, Person
from records.domain.spans import Span, read_span
from records.rules.due import (
    completion,
    copy_due,
    is_licence_ending,
    period_of,
    periods_due,
    report_due,
    span_of,
)
from records.rules.pack import CustomerCopy, PeriodicReport, Source, Status
from records.rules.packs import newest, pack_ids
from records.rules.people_checks import is_certified_on, licence_on
from records.services.closing.service import close_visit
from records.services.readiness import ready
from tests.kit import Kit, visit

if TYPE_CHECKING:
    from pathlib import Path

CHICAGO = ZoneInfo("America/Chicago")
ZONES = ("America/Chicago", "America/New_York", "America/Phoenix", "America/Anchorage", "Pacific/Honolulu")
SOURCE = Source("a rule", "https://example.com", None, Status.VERIFIED)


def at(local: str, zone: ZoneInfo = CHICAGO, fold: int = 0) -> datetime:
    """Return a local moment."""
    return datetime.fromisoformat(local).replace(tzinfo=zone, fold=fold)


# -- hours pass, days end at midnight ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("span", "work", "due"),
    [
        # The night of 2026-03-08 has 23 hours: 24 hours later the clock shows one hour more.
        ("24 hours", "2026-03-07T15:00", "2026-03-08T16:00-05:00"),
        ("72 hours", "2026-03-07T15:00", "2026-03-10T16:00-05:00"),
        # The night of 2026-11-01 has 25: it shows one hour less.
        ("24 hours", "2026-10-31T15:00", "2026-11-01T14:00-06:00"),
        ("72 hours", "2026-10-31T15:00", "2026-11-03T14:00-06:00"),
        # Days end at midnight whatever the clock did in between.
        ("same day", "2026-03-08T00:30", "2026-03-08T23:59:59-05:00"),
        ("same day", "2026-11-01T00:30", "2026-11-01T23:59:59-06:00"),
        ("5 days", "2026-03-06T15:00", "2026-03-11T23:59:59-05:00"),
        ("5 days", "2026-10-30T15:00", "2026-11-04T23:59:59-06:00"),
        # 2026-03-06 is a Friday; the two working days after it are Monday and Tuesday.
        ("2 working days", "2026-03-06T15:00", "2026-03-10T23:59:59-05:00"),
        ("2 working days", "2026-03-07T15:00", "2026-03-10T23:59:59-05:00"),
        ("5 business days", "2026-10-30T15:00", "2026-11-06T23:59:59-06:00"),
        # Leap day
        ("5 days", "2028-02-26T15:00", "2028-03-02T23:59:59-06:00"),
        ("5 days", "2027-02-26T15:00", "2027-03-03T23:59:59-06:00"),
    ],
)
def test_end_after(span: str, work: str, due: str) -> None:
    """Hours are counted as they pass; days end at the zone's midnight."""
    found = read_span(span)
    assert found is not None
    assert found.end_after(at(work)).isoformat() == datetime.fromisoformat(due).isoformat()


@pytest.mark.parametrize(
    ("span", "start", "last"),
    [
        ("24 hours", "2026-03-08T16:00", "2026-03-07T15:00-06:00"),
        ("24 hours", "2026-11-01T14:00", "2026-10-31T15:00-05:00"),
        ("12 hours", "2026-03-08T08:00", "2026-03-07T19:00-06:00"),
        ("12 hours", "2026-11-01T08:00", "2026-10-31T21:00-05:00"),
        ("1 day", "2026-03-08T16:00", "2026-03-07T16:00-06:00"),
        ("1 day", "2026-11-01T14:00", "2026-10-31T14:00-05:00"),
        ("1 working day", "2026-03-09T09:00", "2026-03-06T23:59:59-06:00"),
        ("1 day", "2028-03-01T09:00", "2028-02-29T09:00-06:00"),
    ],
)
def test_start_before(span: str, start: str, last: str) -> None:
    """What has to come so long before is counted back the same way."""
    found = read_span(span)
    assert found is not None
    assert found.start_before(at(start)).isoformat() == datetime.fromisoformat(last).isoformat()


def test_the_hour_that_comes_twice() -> None:
    """Work that ended at the first 01:30 of 2026-11-01 has its 24 hours counted from there, not from the second."""
    first, second = at("2026-11-01T01:30"), at("2026-11-01T01:30", fold=1)
    assert Span(24, "hours").end_after(first) == at("2026-11-02T00:30")
    assert Span(24, "hours").end_after(second) == at("2026-11-02T01:30")


BOUNDS = datetime(2020, 1, 1), datetime(2032, 12, 31)  # noqa: DTZ001 - hypothesis wants them without a zone
MOMENTS = st.datetimes(*BOUNDS, timezones=st.sampled_from(ZONES).map(ZoneInfo))
HOURS = st.integers(1, 200).map(lambda number: Span(number, "hours"))
DAYS = st.integers(0, 60).map(lambda number: Span(number, "days"))
WORKING = st.integers(1, 30).map(lambda number: Span(number, "working days"))


@given(MOMENTS, HOURS)
def test_hours_are_hours(moment: datetime, span: Span) -> None:
    """So many hours are so many hours, whatever the clocks do, forward and back."""
    assert span.end_after(moment).astimezone(UTC) - moment.astimezone(UTC) == timedelta(hours=span.amount)
    assert moment.astimezone(UTC) - span.start_before(moment).astimezone(UTC) == timedelta(hours=span.amount)


@given(MOMENTS, st.one_of(DAYS, WORKING))
def test_days_end_on_their_last_local_day(moment: datetime, span: Span) -> None:
    """A span of days ends just before a midnight of the zone, never before the moment, never short of its days."""
    end = span.end_after(moment)
    assert end.tzinfo is moment.tzinfo
    assert (end.hour, end.minute, end.second) == (23, 59, 59)
    assert end.date() >= moment.date() + timedelta(days=span.amount)
    if span.unit == "working days":
        assert end.weekday() < 5


@given(MOMENTS, st.integers(1, 29))
def test_more_is_never_earlier(moment: datetime, amount: int) -> None:
    """A longer span never ends earlier."""
    for unit in ("hours", "days", "working days"):
        ends = [Span(number, unit).end_after(moment).astimezone(UTC) for number in (amount, amount + 1)]
        assert ends[0] < ends[1]


# -- the zone's own midnight -------------------------------------------------------------------------------------------


def test_late_evening_is_the_same_day(tmp_path: Path) -> None:
    """A visit at 23:50 in Chicago belongs to that day, though it is the next day in UTC."""
    kit = Kit.at(tmp_path)
    document = visit(started="2026-05-14T23:40", finished="2026-05-14T23:50", measured_at="2026-05-14T23:35")
    kit.set("2026-05-14T23:55")
    outcome = close_visit(kit.book, document, kit.clock)
    assert outcome.body is not None, outcome.findings
    assert outcome.body["date"] == "2026-05-14"
    assert outcome.body["finished"]["utc"] == "2026-05-15T04:50:00Z"
    assert outcome.body["late_days"] == 0


def test_after_midnight_is_late(tmp_path: Path) -> None:
    """The same visit entered twenty minutes later is entered on the next day, and kept as that."""
    kit = Kit.at(tmp_path)
    document = visit(started="2026-05-14T23:40", finished="2026-05-14T23:50", measured_at="2026-05-14T23:35")
    kit.set("2026-05-15T00:10")
    outcome = close_visit(kit.book, document, kit.clock)
    assert outcome.body is not None, outcome.findings
    assert outcome.body["date"] == "2026-05-14"
    assert outcome.body["late_days"] == 1


@freeze_time("2026-05-15T04:55:00Z")
def test_the_process_clock_in_the_zone(tmp_path: Path) -> None:
    """The system's clock tells UTC; today is the firm's day, still May 14 at 23:55."""
    kit = Kit.at(tmp_path)
    outcome = close_visit(
        kit.book,
        visit(started="2026-05-14T23:40", finished="2026-05-14T23:50", measured_at="2026-05-14T23:35"),
        SystemClock(),
    )
    assert outcome.body is not None, outcome.findings
    assert (outcome.body["date"], outcome.body["late_days"]) == ("2026-05-14", 0)
    assert ready(kit.book, SystemClock()).today == date(2026, 5, 14)


@freeze_time("2026-05-15T05:00:01Z")
def test_a_second_after_midnight(tmp_path: Path) -> None:
    """One second past the zone's midnight is the next day."""
    assert ready(Kit.at(tmp_path).book, SystemClock()).today == date(2026, 5, 15)


def test_strictest_clock_first() -> None:
    """Of several packs the clock that runs out first leads: Wisconsin's same day before Minnesota's five days."""
    found = completion((newest("us-mn"), newest("us-wi"), newest("us-ny")), at("2026-05-14T15:00"))
    assert [(timed.pack.id, str(timed.due.date())) for timed in found] == [
        ("us-wi", "2026-05-14"),
        ("us-mn", "2026-05-19"),
    ]


# -- licences ----------------------------------------------------------------------------------------------------------


def licence(first: str, last: str, kind: LicenceKind = LicenceKind.CERTIFIED) -> Licence:
    """Return a licence of Minnesota."""
    return Licence("MN-C-1", "MN", kind, (), date.fromisoformat(first), date.fromisoformat(last))


@pytest.mark.parametrize(
    ("first", "last", "day", "valid"),
    [
        ("2026-01-01", "2026-12-31", "2026-12-31", True),  # the last day counts
        ("2026-01-01", "2026-12-31", "2027-01-01", False),
        ("2026-01-01", "2026-12-31", "2026-01-01", True),  # the first too
        ("2026-01-01", "2026-12-31", "2025-12-31", False),
        ("2027-03-01", "2028-02-29", "2028-02-29", True),  # a licence to the leap day
        ("2027-03-01", "2028-02-29", "2028-03-01", False),
        ("2027-03-01", "2028-02-28", "2028-02-29", False),
        ("2028-02-29", "2029-02-28", "2028-02-29", True),
        ("2028-02-29", "2029-02-28", "2028-02-28", False),
    ],
)
def test_licence_days(first: str, last: str, day: str, *, valid: bool) -> None:
    """First and last day of a licence both count, leap days too."""
    person = Person("ruth", "Ruth Sandahl", (licence(first, last),))
    on = date.fromisoformat(day)
    assert (licence_on(person, on, "MN") is not None) is valid
    assert is_certified_on(person, on, "MN") is valid
    assert licence_on(person, on, "WI") is None


def test_last_day_of_a_licence_ends_at_the_zones_midnight(tmp_path: Path) -> None:
    """Karl's licence is valid to 2026-05-14: work at 23:50 that evening is licensed, at 00:10 it is not."""
    kit = Kit.at(tmp_path)
    for start, end, weather, codes in (
        ("2026-05-14T23:40", "2026-05-14T23:50", "2026-05-14T23:35", set[str]()),
        ("2026-05-15T00:01", "2026-05-15T00:10", "2026-05-14T23:58", {"licence-lapsed"}),
    ):
        kit.set("2026-05-15T00:20")
        document = visit(applicator="karl", started=start, finished=end, measured_at=weather, confirmed=["same-day"])
        outcome = close_visit(kit.book, document, kit.clock)
        assert {finding["code"] for finding in outcome.findings if "licence" in finding["code"]} == codes


@pytest.mark.parametrize(
    ("today", "ending"),
    [("2028-01-29", False), ("2028-01-30", True), ("2028-02-29", True), ("2028-03-01", False)],
)
def test_licence_ends_soon(today: str, *, ending: bool) -> None:
    """Thirty days before the leap day a licence is told to end; the day after it has ended."""
    assert is_licence_ending(date(2028, 2, 29), date.fromisoformat(today), 30) is ending


# -- copies and reports ------------------------------------------------------------------------------------------------


def copy(moment: str, within: str | None = None) -> CustomerCopy:
    """Return a copy owed to a customer."""
    return CustomerCopy(
        moment, read_span(within) if within else None, paper=True, electronic="", content=(), source=SOURCE
    )


def test_copies() -> None:
    """At the visit is by the end of its day; so many days are counted; beforehand and on request is not told by it."""
    work = at("2026-03-07T23:50")
    assert copy_due(copy("visit"), work) == at("2026-03-07T23:59:59")
    assert copy_due(copy("days", "5 days"), work) == at("2026-03-12T23:59:59")
    assert copy_due(copy("before"), work) is None
    assert copy_due(copy("request", "2 days"), work) is None


def report(period: str, due: str) -> PeriodicReport:
    """Return a report."""
    return PeriodicReport("any", "Any report", period, due, "the agency", nil=True, layout="", source=SOURCE)


@pytest.mark.parametrize(
    ("period", "due", "about", "day"),
    [
        ("year", "02-01", "2025", "2026-02-01"),  # N.Y. ECL 33-1205: February 1
        ("year", "01-31", "2025", "2026-01-31"),  # 01-026 C.M.R. ch. 50, s. 2: January 31
        ("month", "10", "2026-05", "2026-06-10"),  # 3 CCR 6627: the 10th
        ("month", "10", "2026-12", "2027-01-10"),
        ("month", "31", "2028-01", "2028-02-29"),  # a day the month does not have is its last one
        ("month", "31", "2027-01", "2027-02-28"),
        ("year", "02-29", "2027", "2028-02-29"),
        ("year", "02-29", "2026", "2027-02-28"),
    ],
)
def test_report_due(period: str, due: str, about: str, day: str) -> None:
    """A report is due in the year or the month after its period."""
    assert report_due(report(period, due), about).isoformat() == day


def test_due_days_of_the_packs() -> None:
    """The due days that the packs carry, as their texts have them."""
    found = {one.id: (one.period, one.due) for key in pack_ids() for one in newest(key).reports}
    assert found["ny-annual"] == ("year", "02-01")
    assert found["ca-monthly"] == ("month", "10")
    assert found["me-annual"] == ("year", "01-31")


@given(st.dates(date(1999, 1, 1), date(2040, 1, 1)), st.integers(0, 900), st.sampled_from(["year", "month"]))
def test_periods_due(since: date, length: int, kind: str) -> None:
    """Within some days, each period whose due day lies there is told once, in order, and none besides."""
    one, until = report(kind, "02-01" if kind == "year" else "10"), since + timedelta(days=length)
    found = list(periods_due(one, since, until))
    assert all(since <= due <= until and report_due(one, period) == due for period, due in found)
    assert all(before[1] < after[1] for before, after in pairwise(found))
    expected = {
        day
        for day in (since + timedelta(days=number) for number in range(length + 1))
        if (day.day == 10 if kind == "month" else (day.month, day.day) == (2, 1))
    }
    assert {due for _, due in found} == expected


@given(st.dates(date(1999, 1, 1), date(2040, 1, 1)))
def test_period_holds_its_day(day: date) -> None:
    """A day lies within the period it belongs to."""
    for kind in ("year", "month"):
        first, last = span_of(period_of(report(kind, "1"), day))
        assert first <= day <= last
