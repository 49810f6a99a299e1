"""One day at a glance: stops to make and made, tanks, looks that are due, what waits and what falls due soon."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from records.errors import RecordsError, UsageError
from records.services.advance import plan
from records.services.copies import Copies, owed_copies
from records.services.daily.planned import Planned, planned_stops
from records.services.daily.worked import worked
from records.services.delivering import deliveries
from records.services.directory import Directory
from records.services.duties import Duty, duties
from records.services.finding import read_day
from records.services.follow_up import ratings, treated_since
from records.services.follow_up.looking import LookDue, looks_due
from records.services.mixing import InTank, loads
from records.services.occasions import firm_of
from records.services.ports import Packet
from records.services.rulebook import Rulebook

if TYPE_CHECKING:
    from collections.abc import Iterator

    from records.clock import Clock
    from records.services.ports import HeldEntry, Json, OpenBook, StoredRevision, UnitOfWork

LAST = 400  # days back in which the last visit is looked for
SOON = 7  # days ahead for duties
BACK = 14  # days back for notices that are owed; `swathbook ready` looks at all
SHOWN_LOADS = 8
OWED = frozenset({"owed", "overdue", "outdated"})  # states of a notice that has still to be given


@dataclass(frozen=True, slots=True)
class DayStop:
    """One stop: planned, made, or both."""

    site: str
    address: str
    planned: Planned | None
    made: tuple[str, ...]  # serials of the records of that day
    started: str  # HH:MM of the first, local; "" while none is made
    applicator: str  # of the first; who was planned while none is made
    products: tuple[str, ...]  # put out there that day, by name
    notice_owed: bool
    landmark: str = ""
    notes: str = ""
    to_tell: tuple[str, ...] = ()  # who has still to be told, with by when
    last: str = ""  # what was done there last, in words

    @property
    def state(self) -> str:
        """Return how it stands: made, put off or open."""
        if self.made:
            return "made"
        return "put off" if self.planned is not None and self.planned.is_put_off else "open"


@dataclass(frozen=True, slots=True)
class Day:
    """All that one day asks for."""

    day: date
    today: date
    firm: str
    stops: tuple[DayStop, ...]
    tanks: tuple[InTank, ...]
    looks: tuple[LookDue, ...]
    held: tuple[HeldEntry, ...]
    duties: tuple[Duty, ...]
    owed: tuple[str, ...] = ()  # records of the days before whose notice has still to be given


def day_of(book: OpenBook, clock: Clock, on: str | None = None) -> Day:
    """Return what a day asks for.

    Args:
        book: to look in.
        clock: for today.
        on: the day; None: today at the firm.

    Raises:
        UsageError: it is no day.
        InputError: the book has no firm yet.
    """
    now = clock.now()
    with book.read() as work:
        directory = Directory(work.catalogue)
        business, _ = firm_of(directory)
        today = now.astimezone(ZoneInfo(business.timezone)).date()
        day = _day(on, today)
        planned = planned_stops(work, day)
        made = list(_made(work, day))
        owed = _owed(work, made, now)
        stops = [
            _stop(work, directory, stop, [one for one in made if _site(one) == stop.site], owed) for stop in planned
        ]
        there = {stop.site for stop in planned}
        stops += [
            _stop(work, directory, None, [one for one in made if _site(one) == site], owed)
            for site in dict.fromkeys(_site(one) for one in made)
            if site not in there
        ]
        tanks = tuple(one for one in loads(work, limit=SHOWN_LOADS) if one.is_in_tank and not one.ledger.is_empty)
        there = {stop.site for stop in stops}
        looks = tuple(
            sorted(
                looks_due(work, day),
                key=lambda one: (one.treated.site not in there, one.day, one.treated.serial),
            )
        )
        held = tuple(work.held.open())
    stops = [_with_people(book, clock, stop, day) if stop.state == "open" and day >= today else stop for stop in stops]
    stops.sort(key=lambda one: one.started or (one.planned.time if one.planned else "") or "99:99")
    soon = duties(book, clock, SOON).duties if day == today else ()
    kept = tuple(duty for duty in soon if duty.kind != "follow-up")  # these stand among the looks
    before = deliveries(book, clock, day - timedelta(days=BACK), day - timedelta(days=1)) if day == today else ()
    owing = tuple(row.record.serial for row in before if row.state in OWED)
    return Day(day, today, business.name, tuple(stops), tanks, looks, held, kept, owing)


def _day(text: str | None, today: date) -> date:
    words = {"today": today, "tomorrow": today + timedelta(days=1), "yesterday": today - timedelta(days=1)}
    if text is None or text.strip().lower() in words:
        return words[(text or "today").strip().lower()]
    found = read_day(text)
    if found is None or found != read_day(text, last=True):
        raise UsageError(f"{text[:20]!r} is no single day", "Write it like 2026-05-14, today or tomorrow")
    return found


def _site(record: StoredRevision) -> str:
    return (record.body["site"] or {}).get("id") or ""


def _made(work: UnitOfWork, day: date) -> Iterator[StoredRevision]:
    """Yield the records of a day that stand."""
    orders = [match.order for match in work.records.matching(Packet(since=day, until=day))]
    for record in work.records.bodies(orders):
        if record.action != "voided" and record.body["kind"] == "visit":
            yield record


def _owed(work: UnitOfWork, made: list[StoredRevision], now: datetime) -> frozenset[str]:
    """Return the serials whose customers have not got a copy that a rule asks for."""
    if not made:
        return frozenset()
    copies, rulebook = Copies.since(work, None), Rulebook(work.catalogue)
    found = Directory(work.catalogue).business()
    business = None if found is None else found[0]
    return frozenset(
        record.serial
        for record in made
        if any(
            copy.is_open
            for copy in owed_copies(
                record.body,
                rulebook.of_record(record.body, business),
                tuple(copies.of(record.serial, record.body)),
                now,
            )
        )
    )


def _stop(
    work: UnitOfWork, directory: Directory, planned: Planned | None, made: list[StoredRevision], owed: frozenset[str]
) -> DayStop:
    first: Json = made[0].body if made else {}
    site_id = planned.site if planned is not None else (first.get("site") or {}).get("id") or ""
    found = directory.site(site_id)
    lines = [line for one in made for t in one.body["treatments"] for line in t["applications"]]
    started = (first.get("started") or {}).get("local") or ""
    return DayStop(
        site=site_id,
        address=planned.address if planned is not None else (first.get("site") or {}).get("address") or "",
        planned=planned,
        made=tuple(one.serial for one in made),
        started=started[11:16],
        applicator=(first.get("applicator") or {}).get("name") or ("" if planned is None else planned.by),
        products=tuple(dict.fromkeys(line["product"]["name"] or "" for line in lines)),
        notice_owed=any(one.serial in owed for one in made),
        landmark="" if found is None else found[0].landmark,
        notes="" if found is None else found[0].notes,
        last="" if made else last_words(work, site_id, planned.day if planned is not None else date.max),
    )


def last_words(work: UnitOfWork, site: str, before: date) -> str:
    """Return what was done at a site last, by whom, and whether it worked; "" where nothing was."""
    past = treated_since(work, before - timedelta(days=LAST), before - timedelta(days=1), site)
    if not past:
        return ""
    visit = [one for one in past if one.serial == past[-1].serial]
    rated = [one for one in ratings(work, site=site) if one.rating.record == visit[0].serial]
    products = ", ".join(dict.fromkeys(line.name for one in visit for line in one.used))
    return f"{visit[0].day} by {visit[0].applicator or 'not recorded'}: {products}; {worked(visit, rated)}"


def _with_people(book: OpenBook, clock: Clock, stop: DayStop, day: date) -> DayStop:
    """Return a stop with the people who have still to be told of it."""
    if stop.planned is None:
        return stop
    try:
        told = plan(book, clock, stop.site, day.isoformat(), at=stop.planned.time or None)
    except RecordsError:
        return stop  # the site is not loaded any more; the stop says so by itself
    names = tuple(f"{one.who.name} ({one.who.why}) by {one.latest:%Y-%m-%d %H:%M}" for one in told.left)
    return replace(stop, to_tell=names)
