"""What falls due next, and the calendar file: read back with the library, and held against RFC 5545 by hand."""

from __future__ import annotations

import re
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st
from icalendar import Calendar

from records.clock import FixedClock
from records.reports.due_calendar import render_duties
from records.services.closing.service import append_body
from records.services.duties import KINDS, Duties, Duty, duties
from records.services.events import append_event
from records.services.follow_up import Order, rate
from records.services.readiness import Gap, ready
from records.services.readiness.model import Cited
from tests.bodies import visit_body
from tests.kit import BUSINESS, SITES, Kit, licence, moment

if TYPE_CHECKING:
    from tests.ready.conftest import Swathbook


def due(kit: Kit, days: int = 90) -> list[tuple[str, str, str]]:
    """Return kind, key and day of what falls due."""
    return [(duty.kind, duty.key, duty.day.isoformat()) for duty in duties(kit.book, kit.clock, days).duties]


def open_gaps(kit: Kit) -> list[Gap]:
    """Return all that `ready` finds."""
    return [gap for group in ready(kit.book, kit.clock).groups for gap in group.gaps]


def people(*ends: str) -> list[dict[str, object]]:
    """Return Ruth alone, with licences to these days."""
    licences = [licence(number=f"MN-C-{end[:4]}", to=end) for end in ends]
    return [{"id": "ruth", "name": "Ruth Sandahl", "licences": licences}]


def quiet(kit: Kit) -> None:
    """Give everyone else of the kit a licence that does not end soon."""
    others = ("emil", "tove", "olga", "karl", "siri")
    kit.load(people=[{"id": key, "name": key.title(), "licences": []} for key in others])


def test_licences(kit: Kit) -> None:
    """The last valid day is told, today included, a renewed licence is not."""
    quiet(kit)
    kit.load(people=people("2026-08-12"))
    assert due(kit) == [("licence", "ruth MN certified MN-C-2026", "2026-08-12")]
    assert not due(kit, 89)
    kit.set("2026-08-12T23:50")
    assert len(due(kit, 0)) == 1
    kit.set("2026-08-13T00:10")
    assert not due(kit)
    kit.set("2026-08-01T00:10")
    kit.load(people=people("2026-08-12", "2027-08-12"))
    assert not due(kit)


def test_reports(kit: Kit) -> None:
    """Reports of the packs the firm names and of the states it has sites in, unless they are logged."""
    quiet(kit)
    kit.load(business=BUSINESS | {"packs": ["us-ny"]}, sites=[SITES[0] | {"id": "ca", "state": "CA"}])
    kit.set("2026-11-20T09:00")
    expected = [
        ("report", "ca-monthly 2026-11", "2026-12-10"),
        ("report", "ca-monthly 2026-12", "2027-01-10"),
        ("report", "ca-schools 2026", "2027-01-30"),
        ("report", "ny-annual 2026", "2027-02-01"),
        ("report", "ca-monthly 2027-01", "2027-02-10"),
    ]
    assert due(kit) == expected
    found = duties(kit.book, kit.clock).duties
    assert str(found[3].rules[0]).startswith("us-ny: N.Y. ECL 33-1205")
    assert "your firm names other packs" in found[0].what
    assert "your firm names other packs" not in found[3].what
    with kit.book.write() as work:
        data = {"report": "ca-monthly", "period": "2026-11", "filed_on": "2026-11-20"}
        append_event(work, "report", data, kit.clock.now(), day=date(2026, 11, 20), timezone="America/Chicago")
        work.commit()
    assert due(kit) == expected[1:]


def test_a_report_that_the_tool_cannot_write_is_logged(kit: Kit, swathbook: Swathbook) -> None:
    """The command told logs it, and the period is answered; so with what a firm's own pack names."""
    quiet(kit)
    house = {
        "id": "house",
        "version": "1",
        "title": "House rules",
        "jurisdiction": "US",
        "sources": {"book": {"citation": "Handbook 4"}},
        "reports": [
            {
                "id": "house-year",
                "title": "Year for the insurer",
                "period": "year",
                "due": "03-01",
                "to": "the insurer",
                "nil": True,
                "source": "book",
            }
        ],
    }
    kit.load(packs=[house])
    kit.load(business=BUSINESS | {"packs": ["house"]}, sites=[SITES[0] | {"id": "ca", "state": "CA"}])
    kit.set("2027-01-10T09:00")
    mine = [one for one in duties(kit.book, kit.clock).duties if one.key in {"ca-schools 2026", "house-year 2026"}]
    assert {one.do for one in mine} >= {"swathbook report filed house-year 2026 --on DAY"}
    assert "house-year 2026" in [key for _, key, _ in due(kit)]
    for report in ("ca-schools", "house-year"):
        ran = swathbook("report", "filed", report, "2026", "--on", "2027-01-05")
        assert (ran.code, ran.out.partition("  ")[2]) == (0, f"{report} 2026: filed 2027-01-05\n")
    assert not [key for _, key, _ in due(kit) if key in {"ca-schools 2026", "house-year 2026"}]
    assert "house-year" in swathbook("report", "list").out
    kit.set("2028-03-02T09:00")
    (gap,) = [gap for gap in open_gaps(kit) if gap.subject == "house-year"]
    assert (gap.kind, gap.day) == ("report-other", "2027")
    assert swathbook(*gap.do.replace("DAY", "2028-03-02").split()[1:]).code == 0
    assert not [gap for gap in open_gaps(kit) if gap.subject == "house-year"]


def test_listing(kit: Kit) -> None:
    """The last day of a listing at a site is told."""
    quiet(kit)
    listed = [
        {"id": "bo", "name": "Bo Asp", "why": "registry", "to": "2026-06-30"},
        {"id": "x", "name": "X", "why": "asked"},
    ]
    kit.load(sites=[SITES[0] | {"notify": listed}])
    assert due(kit) == [("listing", "mill-9 bo", "2026-06-30")]


def seal(kit: Kit, **parts: object) -> str:
    """Seal a body as it is."""
    with kit.book.write() as work:
        revision = append_body(work, visit_body(**parts), kit.clock.now())
        work.commit()
    return revision.serial


def test_signs_and_ratings(kit: Kit) -> None:
    """A sign that still stands and a rating still to be made are told, until a sign is logged as taken down."""
    quiet(kit)
    sign = {"local": "2026-05-16T09:30-05:00", "utc": "2026-05-16T14:30:00Z"}
    serial = seal(kit, sign_removal=sign, follow_up="2026-05-28")
    assert due(kit) == [("sign", serial, "2026-05-16"), ("follow-up", serial, "2026-05-28")]
    assert duties(kit.book, kit.clock).duties[0].time == "09:30"
    with kit.book.write() as work:
        now = kit.clock.now()
        append_event(work, "sign", {"serial": serial}, now, day=date(2026, 5, 14), timezone="America/Chicago")
        work.commit()
    assert due(kit) == [("follow-up", serial, "2026-05-28")]
    kit.set("2026-05-29T09:00")
    assert not due(kit)


@pytest.mark.parametrize(("day", "kept"), [("2026-05-24", False), ("2026-05-25", True), ("2026-05-27", True)])
def test_a_look_about_the_promised_day_keeps_the_promise(kit: Kit, day: str, *, kept: bool) -> None:
    quiet(kit)
    serial = kit.sealed(follow_up="2026-05-28").serial or ""
    kit.set(f"{day}T17:00")
    rate(kit.book, kit.clock, Order(serial, ("70",), by="ruth"))
    assert (("follow-up", serial, "2026-05-28") not in due(kit)) == kept


def test_keeping(kit: Kit) -> None:
    """The day from which a year may be removed is told; a leap day's record holds the year a day longer."""
    quiet(kit)
    kit.load(people=people("2040-12-31"))
    seal(kit, date="2024-02-29", period="2024-02", packs=[{"id": "us-mn", "version": "1"}], follow_up=None)
    kit.set("2029-02-01T09:00")
    assert due(kit) == [("keeping", "2024", "2029-03-02")]
    kit.set("2028-02-01T09:00")
    assert not due(kit)


def test_screen(kit: Kit, swathbook: Swathbook) -> None:
    """The list on the screen has day, rule with status and command; JSON has the same."""
    kit.load(business=BUSINESS | {"packs": ["us-me"]})
    kit.set("2026-12-01T09:00")
    ran = swathbook("duty")
    assert ran.code == 0
    assert "2027-01-31  Annual summary of pesticide use about 2026" in ran.out
    assert "(verified)" in ran.out
    assert "> swathbook report me-annual 2026" in ran.out
    (report,) = [one for one in swathbook("duty", "--json").json["duties"] if one["kind"] == "report"]
    assert (report["day"], report["rules"][0]["pack"]) == ("2027-01-31", "us-me")
    kit.set("2026-02-10T09:00")
    assert "nothing falls due" in swathbook("duty", "--days", 5).out


# -- the calendar file -------------------------------------------------------------------------------------------------


def made(*found: Duty) -> bytes:
    """Return a calendar of some duties."""
    at = moment("2026-05-14T09:40")
    return render_duties(Duties(date(2026, 5, 14), date(2026, 8, 12), at, "Otter Bend Turf Works", found), KINDS)


def one(what: str = "a report", key: str = "ny-annual 2026", kind: str = "report") -> Duty:
    """Return a duty."""
    return Duty(kind, key, date(2027, 2, 1), what, (Cited("us-ny", "N.Y. ECL 33-1205", "verified"),), "swathbook duty")


def check_rfc5545(data: bytes) -> None:
    """Hold a file against RFC 5545: CRLF, lines of at most 75 octets, folds inside no character, balanced parts."""
    assert data.endswith(b"\r\n")
    lines = data.split(b"\r\n")[:-1]
    assert all(b"\n" not in line and b"\r" not in line for line in lines)  # 3.1
    assert all(len(line) <= 75 for line in lines)  # 3.1: octets, without the break
    for line in lines:
        line.decode()  # a fold splits no character
    whole = data.replace(b"\r\n ", b"").decode().split("\r\n")[:-1]
    assert all(re.match(r"[A-Z-]+[;:]", line) for line in whole)
    assert not [char for line in whole for char in line if ord(char) < 32 and char != "\t"]
    assert whole[0] == "BEGIN:VCALENDAR"
    assert whole[-1] == "END:VCALENDAR"
    assert {"VERSION:2.0", "METHOD:PUBLISH"} <= set(whole)  # 3.6
    assert [line for line in whole if line.startswith("PRODID:")]
    for part in ("VEVENT", "VALARM"):
        assert whole.count(f"BEGIN:{part}") == whole.count(f"END:{part}")
    events = "\n".join(whole).split("\nBEGIN:VEVENT\n")[1:]
    for event in events:  # 3.6.1: each has a UID and a DTSTAMP, once; DTEND of a day is the next one
        assert len(re.findall(r"^UID:", event, re.MULTILINE)) == 1
        assert len(re.findall(r"^DTSTAMP:\d{8}T\d{6}Z$", event, re.MULTILINE)) == 1
        assert re.search(r"^DTSTART;VALUE=DATE:\d{8}$", event, re.MULTILINE)
    assert len({line for line in whole if line.startswith("UID:")}) == len(events)


def test_read_back() -> None:
    """The library reads back what was written: an all-day event with an alarm a week before, at the clock's instant."""
    data = made(one())
    check_rfc5545(data)
    calendar = Calendar.from_ical(data)
    (event,) = calendar.walk("VEVENT")
    assert event.decoded("dtstart") == date(2027, 2, 1)
    assert event.decoded("dtend") == date(2027, 2, 2)
    assert event.decoded("dtstamp") == datetime.fromisoformat("2026-05-14T14:40:00Z")
    assert str(event["summary"]) == "Report: a report"
    assert "us-ny: N.Y. ECL 33-1205 (verified)" in str(event["description"])
    (alarm,) = event.walk("VALARM")
    assert alarm.decoded("trigger") == timedelta(days=-7)
    assert str(alarm["action"]) == "DISPLAY"


@pytest.mark.parametrize(
    ("kind", "trigger"),
    [
        ("report", timedelta(days=-7)),
        ("keeping", timedelta(days=-7)),
        ("sign", timedelta(hours=7)),
        ("follow-up", timedelta(hours=7)),
    ],
)
def test_alarms(kind: str, trigger: timedelta) -> None:
    """What has to be prepared is told a week before; a sign that comes down, on the morning of its day."""
    (alarm,) = Calendar.from_ical(made(one(kind=kind))).walk("VALARM")
    assert alarm.decoded("trigger") == trigger


def test_stable_uid() -> None:
    """The same duty has the same UID in every export, whatever is said of it; another duty has another."""
    first, second = one("due as it was"), one("due, told otherwise")
    assert first.uid == second.uid
    assert len({duty.uid for duty in (first, one(key="ny-annual 2027"), one(kind="licence"))}) == 3
    assert re.fullmatch(r"report-[0-9a-f]{24}@swathbook", first.uid)


@given(st.text(max_size=300), st.text(max_size=60))
def test_any_text(what: str, key: str) -> None:
    """No text breaks out of its line: commas, semicolons, breaks, control codes, long names of any alphabet."""
    try:
        f"{what}{key}".encode()
    except UnicodeEncodeError:
        return  # half a pair never gets into a book
    data = made(one(what, key))
    check_rfc5545(data)
    (event,) = Calendar.from_ical(data).walk("VEVENT")
    assert str(event["summary"]).startswith("Report:")


@pytest.mark.parametrize(
    "text", ["a; b, c\\ d\nEND:VEVENT\r\nBEGIN:VEVENT", "DTSTART:19990101", "\x00\x1b[31m", '"q":;']
)
def test_hostile(text: str) -> None:
    """A name that looks like a calendar stays a name."""
    data = made(one(text))
    check_rfc5545(data)
    assert len(Calendar.from_ical(data).walk("VEVENT")) == 1


def test_second_export_updates(kit: Kit, swathbook: Swathbook) -> None:
    """A later export names the same events; a book elsewhere with the same firm names them too."""
    kit.load(business=BUSINESS | {"packs": ["us-ny"]})
    kit.set("2026-12-20T09:00")
    first = Calendar.from_ical(swathbook("duty", "--ics", "-").out)
    ran = swathbook("duty", "--ics", kit.path.with_name("due.ics"))
    assert "wrote" in ran.err
    kit.clock = FixedClock(moment("2026-12-22T09:00"))
    later = duties(kit.book, kit.clock)
    second = Calendar.from_ical(kit.path.with_name("due.ics").read_bytes())
    third = Calendar.from_ical(render_duties(later, KINDS))
    names = [{str(event["uid"]) for event in calendar.walk("VEVENT")} for calendar in (first, second, third)]
    assert names[0] == names[1] == names[2]
    assert third.walk("VEVENT")[0].decoded("dtstamp") > first.walk("VEVENT")[0].decoded("dtstamp")
    check_rfc5545(kit.path.with_name("due.ics").read_bytes())
