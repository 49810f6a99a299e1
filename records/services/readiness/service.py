"""Looks the book over as an inspector would, in one pass over the records of a span of days."""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING

from records.errors import UsageError
from records.services.readiness.equipment import uncalibrated
from records.services.readiness.firm import Firm
from records.services.readiness.model import Readiness, grouped
from records.services.readiness.owed import copies_apart, imported, licences_ending, not_told, reports
from records.services.readiness.records import RecordLook, without_label
from records.services.readiness.waiting import held

if TYPE_CHECKING:
    from records.clock import Clock
    from records.services.ports import OpenBook

EARLIEST = date(1900, 1, 1)


def year_before(last: date) -> date:
    """Return the first of the twelve months that end with a day: January 1 for a December 31."""
    following = min(last, date.max - timedelta(1)) + timedelta(1)
    if following.year <= EARLIEST.year:
        return EARLIEST
    if (following.month, following.day) == (2, 29):
        return date(following.year - 1, 3, 1)
    return following.replace(year=following.year - 1)


def ready(book: OpenBook, clock: Clock, since: date | None = None, until: date | None = None) -> Readiness:
    """Return what an inspector would find today.

    Args:
        book: to look over.
        clock: for today.
        since: first day of the records looked at; None: a year before the last day. Not January 1: in January an
            inspector asks about the season before.
        until: last day; None: today, in the firm's zone. Later days hold nothing yet.

    Raises:
        UsageError: the last day is before the first, or no day has come yet.
    """
    with book.read() as work:
        firm = Firm(work, clock.now())
        last = min(until or firm.today, firm.today)
        first = max(since or year_before(until or firm.today), EARLIEST)
        if first > last:
            raise UsageError(f"{first} to {last} holds no day", "Give --from before --to, and not after today")
        listing = frozenset(key for key, site in firm.sites.items() if site.get("notify"))
        look = RecordLook(firm, work.records.event_moments("delivery"), listing)
        gaps = list(look.gaps(work.records.outlines(first, last)))
        gaps += without_label(firm, first, last)
        gaps += held(firm)
        gaps += copies_apart(firm, first, last)
        gaps += not_told(firm, look.visits)
        gaps += reports(firm, first, last)
        gaps += licences_ending(firm, look.people)
        gaps += uncalibrated(firm, look.equipment)
        gaps += imported(look.imported.items())
        packs = tuple(pack.id for pack in firm.packs_on(firm.today))
    return Readiness(first, last, firm.today, look.count, packs, grouped(gaps))
