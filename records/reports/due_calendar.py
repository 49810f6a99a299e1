"""Due dates as an iCalendar file (RFC 5545), through the `icalendar` library, which escapes and folds."""

from __future__ import annotations

from datetime import UTC, timedelta
from typing import TYPE_CHECKING

from icalendar import Alarm, Calendar, Event

from records import __version__
from records.domain.report_model import one_line

if TYPE_CHECKING:
    from records.services.duties import Duties, Duty

BEFORE = timedelta(days=-7)
MORNING = timedelta(hours=7)  # of the day itself: a sign stands too short a time for a week's notice
ON_THE_DAY = frozenset({"sign", "follow-up"})


def render_duties(found: Duties, titles: dict[str, str]) -> bytes:
    """Return an iCalendar file: one all-day event for each duty, with an alarm.

    The alarm comes a week before, or in the morning where it is a matter of the day.
    An event's UID is made of what it is about, so that a calendar that takes a second export in updates its events.

    Args:
        found: what falls due.
        titles: kind of duty in words.
    """
    calendar = Calendar()
    calendar.add("prodid", f"-//Swathbook//Swathbook {__version__}//EN")
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("method", "PUBLISH")
    for duty in found.duties:
        calendar.add_component(_event(duty, found, titles[duty.kind]))
    return bytes(calendar.to_ical())


def _event(duty: Duty, found: Duties, title: str) -> Event:
    # What a table was imported with may hold control codes, which a calendar's text must not (RFC 5545, 3.1)
    summary = one_line(f"{title}: {duty.what}", None)
    lines = (*map(str, duty.rules), f"Then: {duty.do}", found.firm)
    event = Event()
    event.add("uid", duty.uid)
    event.add("dtstamp", found.at.astimezone(UTC).replace(microsecond=0))
    event.add("dtstart", duty.day)
    event.add("dtend", duty.day + timedelta(days=1))
    event.add("summary", summary)
    event.add("description", "\n".join(one_line(line, None) for line in lines if line))
    event.add("transp", "TRANSPARENT")
    alarm = Alarm()
    alarm.add("action", "DISPLAY")
    alarm.add("description", summary)
    alarm.add("trigger", MORNING if duty.kind in ON_THE_DAY else BEFORE)
    event.add_component(alarm)
    return event
