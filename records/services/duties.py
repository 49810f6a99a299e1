"""What falls due next: reports, licences, listings, the end of keeping, signs to take down, ratings to make."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from hashlib import sha256
from typing import TYPE_CHECKING, Any

from records.services.follow_up.looking import NEAR
from records.services.keeping import year_kept
from records.services.logbook import entries
from records.services.readiness.firm import Firm
from records.services.readiness.model import Cited, cited, rules_document
from records.services.readiness.owed import (
    LICENCE_LAW,
    Months,
    is_filed,
    is_written,
    logged_reports,
    next_end,
    report_command,
    reports_due,
)
from records.services.readiness.records import place

if TYPE_CHECKING:
    from collections.abc import Iterator

    from records.clock import Clock
    from records.services.ports import OpenBook, Outline

DAYS = 90
FURTHEST = 3_650
_PAST = 366  # days of work whose signs and ratings may still be ahead
_PLAN = Cited("", "your own plan on the record; a rating after treatment is common practice", "")
_LIST = Cited("", "the list of people to tell that was loaded with the site", "")
KINDS = {
    "report": "Report",
    "licence": "Licence ends",
    "listing": "Listing ends",
    "keeping": "Year may be removed",
    "sign": "Sign may come down",
    "follow-up": "Rating due",
}


@dataclass(frozen=True, slots=True)
class Duty:
    """One thing that falls due on a day."""

    kind: str
    key: str  # what it is about, the same in every export: never a number of the book's own tables
    day: date
    what: str
    rules: tuple[Cited, ...]
    do: str
    time: str = ""  # of that day, where it has one

    @property
    def uid(self) -> str:
        """Return the name of its event in a calendar: made of what it is about, so that a later export updates it."""
        return f"{self.kind}-{sha256(self.key.encode()).hexdigest()[:24]}@swathbook"


@dataclass(frozen=True, slots=True)
class Duties:
    """All that falls due within some days."""

    today: date
    until: date
    at: datetime  # the moment of the look
    firm: str
    duties: tuple[Duty, ...]

    def document(self) -> dict[str, Any]:
        """Return it as a JSON document."""
        return {
            "schema": 1,
            "today": self.today.isoformat(),
            "until": self.until.isoformat(),
            "duties": [
                {
                    "day": duty.day.isoformat(),
                    "time": duty.time or None,
                    "kind": duty.kind,
                    "key": duty.key,
                    "uid": duty.uid,
                    "what": duty.what,
                    "rules": rules_document(duty.rules),
                    "do": duty.do,
                }
                for duty in self.duties
            ],
        }


def duties(book: OpenBook, clock: Clock, days: int = DAYS) -> Duties:
    """Return what falls due from today on, by day.

    Args:
        book: to look in.
        clock: for today, in the firm's zone.
        days: how far ahead.
    """
    with book.read() as work:
        firm = Firm(work, clock.now())
        until = firm.today + timedelta(days)
        found = [
            *_reports(firm, until),
            *_licences(firm, until),
            *_listings(firm, until),
            *_keeping(firm, until),
            *_visits(firm, until),
        ]
        name = "" if firm.business is None else firm.business.name
    found = list({duty.uid: duty for duty in reversed(found)}.values())  # each thing once, as a calendar needs it
    found.sort(key=lambda duty: (duty.day, duty.time, list(KINDS).index(duty.kind), duty.key))
    return Duties(firm.today, until, firm.now, name, tuple(found))


def _reports(firm: Firm, until: date) -> Iterator[Duty]:
    logged, months = logged_reports(firm), Months(firm)
    for owed in reports_due(firm, firm.today, until):
        if is_filed(owed, logged):
            continue
        report = owed.report
        if not report.nil and not months.has_work(owed.pack.state, owed.period) and owed.is_over(firm.today):
            continue
        nil = "; also when nothing was applied" if report.nil else "; only where something was applied"
        named = "" if firm.names(owed.pack) else f" ({owed.pack.state} has sites of yours; your firm names other packs)"
        yield Duty(
            "report",
            f"{report.id} {owed.period}",
            owed.due,
            f"{report.title} about {owed.period}, to {report.to}{nil}{named}",
            (cited(owed.pack.id, report.source),),
            report_command(owed, written=is_written(owed, logged) and owed.is_over(firm.today)),
        )


def _licences(firm: Firm, until: date) -> Iterator[Duty]:
    for key in firm.directory.ids("person"):
        found = firm.directory.person(key)
        if found is None:
            continue
        for licence in found[0].licences:
            end = next_end(found[0], licence, firm.today)
            if end is not None and end <= until:
                yield Duty(
                    "licence",
                    f"{key} {licence.state} {licence.kind} {licence.number}",
                    end,
                    f"{found[0].name}: last valid day of the {licence.kind} licence {licence.number} ({licence.state})",
                    (LICENCE_LAW,),
                    f"swathbook catalogue people {key}",
                )


def _listings(firm: Firm, until: date) -> Iterator[Duty]:
    for key, loaded in firm.sites.items():
        found = firm.directory.site(key) if loaded.get("notify") else None
        for who in found[0].notify if found is not None else ():
            if who.last_day is not None and firm.today <= who.last_day <= until:
                yield Duty(
                    "listing",
                    f"{key} {who.id}",
                    who.last_day,
                    f"last day of the listing of {who.name} at {key}; ask whether it goes on",
                    (_LIST,),
                    f"swathbook catalogue sites {key}",
                )


def _keeping(firm: Firm, until: date) -> Iterator[Duty]:
    """Yield when years may be removed; a year less than one year back cannot have come to its end yet."""
    for year in firm.work.records.years():
        if year >= until.year:
            continue
        kept = year_kept(firm, year)
        if kept.last is None or kept.may_go is None or not firm.today <= kept.may_go <= until:
            continue
        term = kept.last.terms[0]
        yield Duty(
            "keeping",
            str(year),
            kept.may_go,
            f"the records of {year} need not be kept any longer; {kept.last.serial} was the last",
            (Cited(term.pack, term.citation, term.status, term.url),),
            f"swathbook keep {year}",
        )


def _visits(firm: Firm, until: date) -> Iterator[Duty]:
    """Yield signs that still stand and ratings still to be made, of the work of the last year."""
    taken_down = firm.work.records.event_moments("sign")
    looked: defaultdict[str, date] = defaultdict(lambda: date.min)  # at each record, the last day somebody looked
    for one in entries(firm.work, "rating", since=firm.today - timedelta(NEAR)):
        looked[one.data["serial"] or ""] = one.day
    for record in firm.work.records.outlines(firm.today - timedelta(_PAST), firm.today):
        if record.action == "voided":
            continue
        if record.sign_removal and record.serial not in taken_down:
            yield from _sign(firm, record, until)
        if record.follow_up and firm.today.isoformat() <= record.follow_up <= until.isoformat():
            promised = date.fromisoformat(record.follow_up)
            if looked[record.serial] >= promised - timedelta(NEAR):
                continue
            yield Duty(
                "follow-up",
                record.serial,
                promised,
                f"{place(record)}: see whether the treatment of {record.day} worked",
                (_PLAN,),
                f"swathbook show {record.serial}",
            )


def _sign(firm: Firm, record: Outline, until: date) -> Iterator[Duty]:
    moment = datetime.fromisoformat(record.sign_removal or "")
    if moment.timestamp() < firm.now.timestamp() or moment.date() > until:
        return
    packs = firm.of_outline(record.packs) or ()
    rules = tuple(cited(pack.id, sign.source) for pack in packs for sign in pack.signs)
    yield Duty(
        "sign",
        record.serial,
        moment.date(),
        f"{place(record)}: the sign may come down from {moment:%H:%M} on",
        rules or (Cited("", "the label named on the record", ""),),
        f"swathbook show {record.serial}",
        f"{moment:%H:%M}",
    )
