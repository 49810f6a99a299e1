"""Stops to make: each a sealed event of its day, moved by `postpone`, withdrawn like an entry of the shop log."""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from datetime import date
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from records.domain.contacts import POSTPONED
from records.errors import RecordsError, UsageError
from records.services.directory import Directory
from records.services.events import append_event
from records.services.finding import read_day
from records.services.occasions import firm_of, local, person_of, site_body, site_of, words_of, zone_at

if TYPE_CHECKING:
    from collections.abc import Sequence

    from records.clock import Clock
    from records.services.ports import Json, OpenBook, UnitOfWork

FURTHEST = 400  # days ahead
_TIME = re.compile(r"([01]?\d|2[0-3]):([0-5]\d)", re.ASCII)


@dataclass(frozen=True, slots=True)
class Planned:
    """A stop to make."""

    serial: str  # of the event
    site: str  # id
    address: str
    day: date
    time: str  # HH:MM, local; "" where none is set
    why: str  # against what, or what for; "" where not said
    person: str  # id; "" where nobody is named
    by: str  # name
    moved: date | None = None  # where it was moved: to this day or, on its new day, from that one
    is_put_off: bool = False  # it is not one of this day any more


def add_stops(
    book: OpenBook,
    clock: Clock,
    sites: Sequence[str],
    on: str | None = None,
    *,
    time: str | None = None,
    why: str | None = None,
    by: str | None = None,
) -> list[Planned]:
    """Seal stops to make, in the order given; all of them or none.

    Args:
        book: that holds the sites.
        clock: for the present moment.
        sites: ids, or parts of addresses that fit one site each.
        on: day of the work; None: today at the firm.
        time: HH:MM of the first stop; None: not set.
        why: what for, in a few words.
        by: id of who goes.

    Raises:
        UsageError: no day or time, a day that is past or too far ahead, or no site.
        NotFoundError: no such site or person; all of them are named.
    """
    if not sites:
        raise UsageError("no site is named", "Name one or more: swathbook day add SITE...")
    now, words = clock.now(), words_of(why, "--for", 200)
    with book.write() as work:
        directory = Directory(work.catalogue)
        business, firm = firm_of(directory)
        today = now.astimezone(ZoneInfo(business.timezone)).date()
        day, when = _day(on, today), _time(time)
        person = person_of(directory, by, day, business.state)
        found, problems = [], []
        for text in sites:
            try:
                found.append(site_of(directory, text))
            except RecordsError as error:
                problems.append(error)
        if problems:
            raise type(problems[0])("; ".join(one.what for one in problems), problems[0].hint)
        done = []
        for number, (site, version) in enumerate(found):
            _refuse_twice(work, site.id, day, when if not number else "", words)
            data: Json = {
                "site": site.id,
                "day": day.isoformat(),
                "time": when if not number else "",
                "why": words,
                "at": local(now.astimezone(zone_at(site, business)).replace(microsecond=0)),
                "words": f"stop at {site.id} on {day}" + (f": {words}" if words else ""),
            }
            event = append_event(
                work,
                "stop",
                data,
                now,
                day=day,
                timezone=zone_at(site, business).key,
                business=firm,
                site=site_body(site, version),
                person=person,
            )
            done.append(_planned(event.serial, event.body))
        work.commit()
    return done


def _refuse_twice(work: UnitOfWork, site: str, day: date, time: str, why: str) -> None:
    """Refuse a stop that is planned already; another hour or purpose is another stop.

    Raises:
        UsageError: the same site, day, hour and purpose.
    """
    for stop in planned_stops(work, day):
        if (stop.site, stop.time, stop.why, stop.is_put_off) == (site, time, why, False):
            raise UsageError(
                f"{site} is a stop of {day} already ({stop.serial})", "Another stop there? Say what --for, or --at when"
            )


def _day(text: str | None, today: date) -> date:
    day = today if text is None else read_day(text, last=True)
    if day is None or (text is not None and len(text.strip()) < len("2026-1-1")):
        raise UsageError(f"--on {text!r:.20} is no single day", "Write it like 2026-05-14")
    if day < today:
        raise UsageError(f"--on {day} is past; today is {today}", "A visit that was made is closed: swathbook close")
    if (day - today).days > FURTHEST:
        raise UsageError(f"--on {day} is more than {FURTHEST} days ahead", "Check the year")
    return day


def _time(text: str | None) -> str:
    if text is None:
        return ""
    found = _TIME.fullmatch(text.strip())
    if found is None:
        raise UsageError(f"--at {text[:20]!r} is no time of day", "Write it like 09:40")
    return f"{int(found[1]):02d}:{found[2]}"


def _planned(serial: str, body: Json) -> Planned:
    data, person = body["data"], body["applicator"] or {}
    return Planned(
        serial=serial,
        site=data["site"],
        address=(body["site"] or {}).get("address") or "",
        day=date.fromisoformat(data["day"]),
        time=data["time"],
        why=data["why"],
        person=person.get("id") or "",
        by=person.get("name") or "",
    )


@dataclass(slots=True)
class _Course:
    """The days of one stop: where it stands, and where it came from."""

    event: int  # number of the event that planned it
    planned: Planned
    day: date
    came_from: date | None = None
    left: dict[date, date] = field(default_factory=dict)  # day it was taken off, and the day it went to


@dataclass(frozen=True, slots=True)
class _Move:
    event: int
    site: str
    before: date
    after: date


def planned_stops(work: UnitOfWork, day: date) -> list[Planned]:
    """Return the stops of a day in the order in which they were planned, those that were moved to it last.

    A stop that was put off stays on its old day, marked with the new one; a stop may be put off again and again.

    Args:
        work: a unit of work.
        day: local.
    """
    gone = {event.body["data"]["of"] for event in work.records.events("withdrawal")}
    moves = _moves(work)
    days = {day}  # from which stops can have come to it
    while more := {move.before for move in moves if move.after in days} - days:
        days |= more
    courses = [
        _Course(_number(event.serial), planned := _planned(event.serial, event.body), planned.day)
        for one in sorted(days)
        for event in work.records.events("stop", since=one, until=one)
        if event.serial not in gone
    ]
    for move in moves:
        for course in courses:
            if (course.planned.site, course.day) == (move.site, move.before) and course.event < move.event:
                course.left[move.before] = move.after
                course.day, course.came_from = move.after, move.before
    courses.sort(key=lambda course: (course.planned.day != day, course.event))
    here = [course for course in courses if course.day == day]
    own = {course.planned.site for course in here if course.planned.day == day}
    return [
        found
        for course in courses
        if not (course.day == day and course.planned.day != day and course.planned.site in own)
        and (found := _on(course, day)) is not None
    ]


def _on(course: _Course, day: date) -> Planned | None:
    """Return a stop as it stands on a day; None where it has nothing to do with it."""
    planned = course.planned
    if course.day == day:
        if planned.day == day:
            return planned  # never moved, or back again
        return replace(planned, day=day, time="", moved=course.came_from)
    if day in course.left:
        return replace(planned, day=day, moved=course.left[day], is_put_off=True)
    return None


def _moves(work: UnitOfWork) -> list[_Move]:
    """Return what was put off, in the order in which it was said."""
    found = [
        _Move(
            _number(event.serial),
            (event.body["site"] or {}).get("id") or "",
            date.fromisoformat(event.body["data"]["for"]),
            date.fromisoformat(event.body["data"]["to"]),
        )
        for event in work.records.events("contact")
        if event.body["data"]["result"] == POSTPONED
    ]
    return sorted(found, key=lambda move: move.event)


def _number(serial: str) -> int:
    return int(serial.rpartition("-")[2])
