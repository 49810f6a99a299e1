"""Stretches of time as rules and labels write them: hours, days, working days."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta

_SPAN = re.compile(r"(\d{1,3}) (hour|day|working day|business day)s?", re.ASCII)
EXAMPLE = "5 days, 24 hours, 2 working days or same day"


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch of time: 5 "days", 2 "working days", 24 "hours"; 0 "days" is the same day."""

    amount: int
    unit: str  # "hours", "days", "working days"

    def __str__(self) -> str:
        """Return the span in words."""
        if not self.amount:
            return "the same day"
        return f"{self.amount} {self.unit if self.amount != 1 else self.unit.removesuffix('s')}"

    def end_after(self, moment: datetime) -> datetime:
        """Return the last moment within the span after a moment, on the clock of the moment's own zone.

        Hours are counted as they pass, so that a night with a change of the clock gives none away. Days run to the end
        of the last local day. Working days leave out Saturdays and Sundays; holidays are counted as working days, since
        rules differ about them, so that the end told is never later than any rule's.

        Args:
            moment: aware, in the zone that counts.
        """
        if self.unit == "hours":
            return (moment.astimezone(UTC) + timedelta(hours=self.amount)).astimezone(moment.tzinfo)
        day = moment.date()
        if self.unit == "days":
            day += timedelta(days=self.amount)
        else:
            for _ in range(self.amount):
                day = _next_working(day)
        return datetime.combine(day, LAST, tzinfo=moment.tzinfo)

    def start_before(self, moment: datetime) -> datetime:
        """Return the last moment at which something may begin that has to lie the span before a moment.

        Days count back to the same time of day; working days to the end of the working day so many before.

        Args:
            moment: aware, in the zone that counts.
        """
        if self.unit == "hours":
            return (moment.astimezone(UTC) - timedelta(hours=self.amount)).astimezone(moment.tzinfo)
        if self.unit == "days":
            return moment - timedelta(days=self.amount)
        day = moment.date()
        for _ in range(self.amount):
            day = _working_before(day)
        return datetime.combine(day, LAST, tzinfo=moment.tzinfo)


LAST = time(23, 59, 59)


def _next_working(day: date) -> date:
    day += timedelta(days=1)
    while day.weekday() >= 5:
        day += timedelta(days=1)
    return day


def _working_before(day: date) -> date:
    day -= timedelta(days=1)
    while day.weekday() >= 5:
        day -= timedelta(days=1)
    return day


def read_span(text: str) -> Span | None:
    """Return a stretch of time written like `5 days`, `24 hours`, `2 working days` or `same day`; None when not so."""
    if text == "same day":
        return Span(0, "days")
    found = _SPAN.fullmatch(text)
    if found is None:
        return None
    return Span(int(found[1]), f"{found[2].replace('business', 'working')}s")


def late_by(entered: datetime, due: datetime, shown: str = "") -> str:
    """Return by how much a record missed its clock, in the one wording of every screen and paper.

    Args:
        entered: when the record was completed, aware.
        due: when it had to be, aware, in the zone that counts.
        shown: the due moment as it is to be shown, where it is not to the minute in its own zone.
    """
    return f"completed late by {lapse(entered - due)}; it was due {shown or format(due, '%Y-%m-%d %H:%M')}"


def lapse(past: timedelta) -> str:
    """Return how far past its time something is: hours and minutes under two days, else days."""
    minutes = max(int(past.total_seconds() // 60), 1)
    days, hours = minutes // 1440, minutes // 60
    parts = [(days, "day")] if days >= 2 else [(hours, "hour"), (minutes % 60, "minute")]
    return " ".join(f"{number} {word}{'' if number == 1 else 's'}" for number, word in parts if number)
