"""Until when each record has to be kept and why; and the removal of a year whose time is over."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple
from zoneinfo import ZoneInfo

from records.errors import NotFoundError, RetentionError, UsageError
from records.rules.due import span_of
from records.rules.people_checks import licence_on
from records.rules.retention import Classes, Starts, longest_first, needs_classes, terms
from records.services.closing.body import business_body, licence_body
from records.services.events import append_event
from records.services.finding import normal_serial, revisions_of
from records.services.readiness.firm import Firm

if TYPE_CHECKING:
    from collections.abc import Iterator

    from records.clock import Clock
    from records.rules.pack import Pack
    from records.rules.retention import Term
    from records.services.ports import Json, OpenBook, Outline, StoredRevision, UnitOfWork, YearStubs

_PAGE = 500
_ONE_DAY = timedelta(1)
MAX_REASON = 2_000


class RecordKept(NamedTuple):
    """A record with every reason to keep it, the longest first."""

    serial: str
    day: str  # or the month of a month's total
    terms: tuple[Term, ...]

    @property
    def last_day(self) -> date:
        """Return the last day it has to be kept."""
        return self.terms[0].last_day


@dataclass(slots=True)
class YearKept:
    """The records of one year, summed up."""

    year: int
    records: int = 0
    first_end: date = date.max
    last: RecordKept | None = None  # the record that has to be kept longest
    rules: dict[str, int] = field(default_factory=dict)  # rule in words -> records it keeps longest

    def add(self, record: RecordKept) -> None:
        """Add a record."""
        self.records += 1
        self.first_end = min(self.first_end, record.last_day)
        if self.last is None or record.last_day > self.last.last_day:
            self.last = record
        rule = record.terms[0].rule
        self.rules[rule] = self.rules.get(rule, 0) + 1

    @property
    def may_go(self) -> date | None:
        """Return the first day on which the whole year may be removed; None for an empty one."""
        return None if self.last is None else _after(self.last.last_day)


class Gone(NamedTuple):
    """A year that was removed."""

    year: int
    revisions: int
    event: str


class Removal(NamedTuple):
    """What a removal would take away, or took away."""

    year: int
    revisions: int
    last: RecordKept
    stubs: YearStubs
    why: tuple[str, ...]
    event: str = ""


def _after(day: date) -> date:
    return day if day == date.max else day + _ONE_DAY


# -- how long ---------------------------------------------------------------------------------------------------------


def kept_years(book: OpenBook, clock: Clock) -> tuple[list[YearKept], list[Gone]]:
    """Return every year of the book with the ends of its records, and the years that were removed."""
    with book.read() as work:
        firm = Firm(work, clock.now())
        years = [year_kept(firm, year) for year in work.records.years()]
        gone: dict[tuple[int, str], int] = {}
        for stub in work.records.removed():
            key = (int(stub.serial[:4]), stub.event)
            gone[key] = gone.get(key, 0) + 1
    return years, [Gone(year, count, event) for (year, event), count in sorted(gone.items())]


def kept_of_year(book: OpenBook, clock: Clock, year: int) -> list[RecordKept]:
    """Return every record of a year with its reasons, those kept longest first.

    Raises:
        NotFoundError: the book holds nothing of that year.
    """
    with book.read() as work:
        found = list(kept(Firm(work, clock.now()), year))
        if not found:
            raise _nothing(work, year)
    return sorted(found, key=lambda record: (-record.last_day.toordinal(), record.serial))


def kept_of_record(book: OpenBook, clock: Clock, serial: str) -> RecordKept:
    """Return one record with its reasons.

    Raises:
        NotFoundError: no such record.
    """
    with book.read() as work:
        revisions = revisions_of(work.records.revisions(normal_serial(serial)), serial)
        if revisions[0].body["kind"] == "event":
            raise NotFoundError(f"{revisions[0].serial} is an event, which stays as long as the book", "Name a record")
        return _of_revisions(Firm(work, clock.now()), revisions)


def year_kept(firm: Firm, year: int) -> YearKept:
    """Return one year summed up."""
    found = YearKept(year)
    for record in kept(firm, year):
        found.add(record)
    return found


def kept(firm: Firm, year: int) -> Iterator[RecordKept]:
    """Yield the records of a year with their reasons, in pages; bodies are read only where products matter."""
    page: list[Outline] = []
    for record in firm.work.records.outlines(date(year, 1, 1), date(year, 12, 31)):
        page.append(record)
        if len(page) >= _PAGE:
            yield from _page(firm, page)
            page = []
    yield from _page(firm, page)


def _page(firm: Firm, page: list[Outline]) -> Iterator[RecordKept]:
    plain = {record.order: packs for record in page if (packs := _plain(firm, record)) is not None}
    bodies = firm.work.records.bodies([record.order for record in page if record.order not in plain])
    for record in page:
        if record.order in plain:
            starts = _starts(record.day, record.period, record.timezone, record.entered_at, record.sealed_at)
            found = _terms(plain[record.order], Classes(), starts)
            yield RecordKept(record.serial, record.day or record.period, found)
            continue
        stored = next(bodies)
        yield _of_revisions(firm, [stored] if record.revision == 1 else firm.work.records.revisions(record.serial))


def _plain(firm: Firm, record: Outline) -> tuple[Pack, ...] | None:
    """Return the packs of a record that tell its end without its body; None where the body is needed."""
    packs = firm.of_outline(record.packs)
    return None if packs is None or record.revision > 1 or needs_classes(packs) else packs


def _of_revisions(firm: Firm, revisions: list[StoredRevision]) -> RecordKept:
    """Return a record by all its revisions: what an earlier text has to be kept for stands as long as the record."""
    changed = revisions[-1].sealed_at
    found: set[Term] = set()
    for stored in revisions:
        body = stored.body
        starts = _starts(body["date"], body["period"], body["timezone"], body["entered_at"], changed)
        found.update(_terms(firm.rulebook.of_record(body, firm.business), classes_of(body), starts))
    body = revisions[-1].body
    return RecordKept(revisions[-1].serial, body["date"] or body["period"], longest_first(found))


@lru_cache(maxsize=8192)
def _terms(packs: tuple[Pack, ...], held: Classes, starts: Starts) -> tuple[Term, ...]:
    return terms(packs, held, starts)


def _starts(day: str | None, period: str, zone: str, entered_at: str, sealed_at: str) -> Starts:
    """Return the days that years are counted from; a month's total counts from the month's last day."""
    application = date.fromisoformat(day) if day else span_of(period)[1]
    return Starts(application, _local_day(entered_at, zone), _local_day(sealed_at, zone))


def _local_day(instant: str, zone: str) -> date:
    return datetime.fromisoformat(instant).astimezone(ZoneInfo(zone)).date()


def classes_of(body: Json) -> Classes:
    """Return the classes of products in a record; what an import does not say may be of any class."""
    restricted = other = False
    actives: set[str] = set()
    is_sure = True
    for treatment in body["treatments"]:
        for line in treatment["applications"]:
            product = line["product"]
            restricted |= product.get("restricted_use") is not False
            other |= not product.get("restricted_use")
            named = [active["name"].lower() for active in (*(product.get("actives") or []), *line["actives"])]
            actives.update(named)
            is_sure &= bool(named) or product["kind"] not in {"pesticide", "minimum-risk"}
    return Classes(restricted, other, frozenset(actives), is_sure)


# -- removal ----------------------------------------------------------------------------------------------------------


def removal_of(book: OpenBook, clock: Clock, year: int) -> Removal:
    """Return what a removal of a year would take away.

    Raises:
        RetentionError: a record of it has to be kept still, or the year is not over.
        NotFoundError: the book holds nothing of that year.
    """
    with book.read() as work:
        return _removal(Firm(work, clock.now()), year)


def remove_year(book: OpenBook, clock: Clock, shown: Removal, *, reason: str, by: str) -> Removal:
    """Remove the records of a year and seal that, in one transaction; held entries and events stay.

    Args:
        book: to remove them from.
        clock: for today.
        shown: what `removal_of` said and the person agreed to.
        reason: why, in words.
        by: id of the person who does it.

    Raises:
        RetentionError: a record of it has to be kept still, or the year has changed since it was shown.
        NotFoundError: no such person.
        UsageError: no reason was given.
    """
    reason = " ".join(reason.split())
    if not reason or len(reason) > MAX_REASON:
        raise UsageError("a removal needs a reason, in at most 2,000 characters", "Add --reason 'time of keeping over'")
    with book.write() as work:
        firm = Firm(work, clock.now())
        found = firm.directory.person(by)
        if found is None:
            raise NotFoundError(f"no person {by[:40]!r} in the book", "swathbook catalogue people lists them")
        removal = _removal(firm, shown.year)
        if removal.stubs != shown.stubs:
            raise RetentionError(f"the records of {shown.year} have changed meanwhile", "Look again before removing")
        person, version = found
        state = firm.business.state if firm.business else ""
        licence = licence_body(licence_on(person, firm.today, state))
        event = append_event(
            work,
            "removal",
            removal.stubs.data(removal.year) | {"why": list(removal.why), "reason": reason, "by": by},
            firm.now,
            day=firm.today,
            timezone=firm.business.timezone if firm.business else "UTC",
            business=_firm_body(firm),
            person={"id": person.id, "name": person.name, "licence": licence, "version": version},
        )
        work.records.remove_year(removal.year, event)
        work.commit()
    return removal._replace(event=event.serial)


def _firm_body(firm: Firm) -> Json | None:
    found = firm.directory.business()
    return None if found is None else business_body(*found)


def _removal(firm: Firm, year: int) -> Removal:
    """Return what a removal would take away, or refuse it.

    Every revision of the year goes, so every record of it has to be past its last day, voided ones too.

    Raises:
        RetentionError: a record of it has to be kept still, or the year is not over.
        NotFoundError: the book holds nothing of that year.
    """
    if year >= firm.today.year:
        raise RetentionError(f"{year} is not over; no record of it can be removed", "swathbook keep tells from when")
    stubs, found = firm.work.records.stubs_of(year), year_kept(firm, year)
    last, may_go = found.last, found.may_go
    if stubs is None or last is None or may_go is None:
        raise _nothing(firm.work, year)
    if firm.today < may_go:
        told = f"the records of {year} have to be kept until {last.last_day}: {last.serial}, {last.terms[0].rule}"
        raise RetentionError(told, f"They may be removed from {may_go} on")
    why = tuple(f"{rule}; longest for {count}" for rule, count in sorted(found.rules.items()))
    return Removal(year, stubs.count, last, stubs, (*why, f"all were to be kept until {last.last_day} at the latest"))


def _nothing(work: UnitOfWork, year: int) -> NotFoundError:
    known = ", ".join(map(str, work.records.years())) or "none"
    return NotFoundError(f"the book holds no record of {year}", f"Years with records: {known}")
