"""When something is due: pure arithmetic over the clocks, copies, reports and advance notices of packs.

Moments are aware and in the zone that counts (the site's own); a day ends at that zone's midnight, whatever day it is
in UTC. `Span` does the counting (`domain/spans.py`).
"""

from __future__ import annotations

import calendar
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta, tzinfo
from functools import lru_cache
from typing import TYPE_CHECKING

from records.domain.spans import Span

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from records.rules.pack import Clock, CustomerCopy, Pack, PeriodicReport

SAME_DAY = Span(0, "days")
_MOST = 400  # periods looked at for one report: more than thirty years of months


@dataclass(frozen=True, slots=True)
class Timed:
    """A clock of a pack, run out at a moment."""

    due: datetime
    pack: Pack
    clock: Clock


def completion(packs: Iterable[Pack], work: datetime) -> tuple[Timed, ...]:
    """Return until when each pack wants the record completed and handed over to the firm, the strictest first.

    What stands in the book has been handed over, so both clocks end with the entry.

    Args:
        packs: that judge the record.
        work: when the work ended (or began, where no end is known).
    """
    judging = tuple(packs)
    if counts_hours(judging):
        return _run_out(judging, work)
    return _by_day(judging, work.date(), work.tzinfo)


@lru_cache(maxsize=256)
def counts_hours(packs: tuple[Pack, ...]) -> bool:
    """Tell whether any clock counts hours; every other clock runs to the end of a day."""
    return any(clock.within.unit == "hours" for _, clock in _clocks(packs))


@lru_cache(maxsize=1024)
def _by_day(packs: tuple[Pack, ...], day: date, zone: tzinfo | None) -> tuple[Timed, ...]:
    """Return what holds for all the work of one day, whatever its hour."""
    return _run_out(packs, datetime.combine(day, time(), zone))


def _clocks(packs: Iterable[Pack]) -> Iterator[tuple[Pack, Clock]]:
    for pack in packs:
        for clock in (pack.complete, pack.hand_over):
            if clock is not None:
                yield pack, clock


def _run_out(packs: Iterable[Pack], work: datetime) -> tuple[Timed, ...]:
    found = [Timed(clock.within.end_after(work), pack, clock) for pack, clock in _clocks(packs)]
    # By the instant: two times of one zone compare by what the clock shows, which is no order in the night it goes back
    return tuple(sorted(found, key=lambda timed: (timed.due.timestamp(), not timed.clock.source.status.binds)))


def copy_due(copy: CustomerCopy, work: datetime) -> datetime | None:
    """Return until when a customer has to have got a copy; None where that is not counted from the visit.

    "At the visit" is judged by the end of its day: the book knows the day of a delivery, not who stood at the door.
    What is owed beforehand or on request is not told by a visit.
    """
    if copy.moment == "visit":
        return SAME_DAY.end_after(work)
    if copy.moment == "days" and copy.within is not None:
        return copy.within.end_after(work)
    return None


def is_licence_ending(last_day: date, today: date, days: int) -> bool:
    """Tell whether a licence's last valid day, which still counts, lies within so many days from today."""
    return today <= last_day <= today + timedelta(days)


def period_of(report: PeriodicReport, day: date) -> str:
    """Return the period of a report that a day belongs to: "2026" or "2026-05"."""
    return f"{day:%Y}" if report.period == "year" else f"{day:%Y-%m}"


def span_of(period: str) -> tuple[date, date]:
    """Return first and last day of a period."""
    year, _, month = period.partition("-")
    if not month:
        return date(int(year), 1, 1), date(int(year), 12, 31)
    last = calendar.monthrange(int(year), int(month))[1]
    return date(int(year), int(month), 1), date(int(year), int(month), last)


def report_due(report: PeriodicReport, period: str) -> date:
    """Return the day a report about a period is due: in the following year, or in the following month.

    ECL 33-1205: February 1 after the year. 3 CCR 6627: the 10th of the month after. A day that the month does not have
    is its last one: earlier, never later. A day that is no working day is not moved: some agencies take the next one,
    and the day told must not be later than any of them wants.
    """
    following = span_of(period)[1] + timedelta(1)
    month, _, day = report.due.rpartition("-")
    at = int(month) if month else following.month
    return date(following.year, at, min(int(day), calendar.monthrange(following.year, at)[1]))


def periods_due(report: PeriodicReport, since: date, until: date) -> Iterator[tuple[str, date]]:
    """Yield the periods of a report that are due within some days, both ends counting, with the day.

    Args:
        report: of a pack.
        since: first day.
        until: last day.
    """
    day = since - timedelta(2 * 366 if report.period == "year" else 62)
    for _ in range(_MOST):
        period = period_of(report, day)
        due = report_due(report, period)
        if due > until:
            return
        if due >= since:
            yield period, due
        day = span_of(period)[1] + timedelta(1)
