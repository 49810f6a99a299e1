"""Records what the customer got before the work, and what a customer asked for: copies that no visit brings along."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import TYPE_CHECKING

from records.errors import UsageError
from records.services.advance import state_packs
from records.services.copies import ASKED, BEFORE, deliveries_of, owed_copies
from records.services.delivering import Delivered, about, asked_at, check_how, customer_of, known_of, whom_of
from records.services.directory import Directory
from records.services.events import append_event
from records.services.finding import read_day
from records.services.notice_content import zone_of
from records.services.occasions import firm_of, local, moment_of, person_of, site_body, site_of, zone_at
from records.services.reporting import record_and_packs
from records.services.rulebook import Rulebook

if TYPE_CHECKING:
    from collections.abc import Sequence
    from zoneinfo import ZoneInfo

    from records.clock import Clock
    from records.domain.people import Business
    from records.rules.pack import Pack
    from records.services.copies import Delivery
    from records.services.ports import Json, OpenBook, StoredRevision, UnitOfWork

_NO_PAGE: Json = {"paper": "", "sha256": "", "message_id": ""}


@dataclass(frozen=True, slots=True)
class _Subject:
    """What a copy is about: a record, or the work of some days at a site."""

    about: Json
    body: Json  # site, customer and date
    packs: Sequence[Pack]
    zone: ZoneInfo
    record: StoredRevision | None = None


def give_before(
    book: OpenBook,
    key: str,
    clock: Clock,
    *,
    how: str,
    day: str | None = None,
    until: str | None = None,
    to: str | None = None,
    role: str | None = None,
    at: str | None = None,
    by: str | None = None,
) -> Delivered:
    """Record that the customer got what a rule wants given before the work; the tool did not write it.

    Args:
        book: that holds the record or site.
        key: serial of the record; before there is one, the site by id or a part of id or address.
        clock: for the present moment.
        how: one of `HOWS`.
        day: of the work, or first of the days of work, that it is about; only with a site.
        until: last of those days, as with the contract of a season; None: that one day.
        to: whom it was given to; None: the customer.
        role: one of `ROLES`, who that is.
        at: when, as typed; None: now.
        by: id of the person who gave it.

    Raises:
        UsageError: the words make no sense together.
        NotFoundError: no such record, site or person.
        MailError: it may not go by e-mail.
    """
    check_how(how)
    now = clock.now()
    with book.write() as work:
        directory = Directory(work.catalogue)
        business, _ = firm_of(directory)
        told = _of_record(work, key) if day is None else _of_site(work, directory, business, key, day, until)
        moment, customer = moment_of(at, "--at", told.zone, now), customer_of(directory, told.body)
        wanting = [pack for pack in told.packs if any(copy.moment == "before" for copy in pack.copies)]
        whom, who = whom_of(how, to, role, customer, told.body, wanting)
        language = "" if customer is None else customer.language
        data = {"before": True, "how": how, "to": whom, "as": who, "at": local(moment), "language": language}
        event, known = _logged(work, told, data, moment, now, by)
        work.commit()
    return _done(event, told, known, now, "before")


def log_request(
    book: OpenBook,
    serial: str,
    clock: Clock,
    *,
    asked: str,
    to: str | None = None,
    role: str | None = None,
    by: str | None = None,
) -> Delivered:
    """Record that the customer asked for a copy which has not been given yet.

    Args:
        book: that holds the record.
        serial: of the record.
        clock: for the present moment.
        asked: when, a day or a moment; a day counts from its beginning.
        to: who asked; None: the customer.
        role: one of `ROLES`, who that is.
        by: id of the person who took the request.

    Raises:
        UsageError: the words make no sense.
        NotFoundError: no such record or person.
    """
    now = clock.now()
    with book.write() as work:
        told = _of_record(work, serial)
        whom, who = whom_of("paper", to, role, customer_of(Directory(work.catalogue), told.body), told.body, ())
        when = asked_at(asked, told.zone, now)
        data = {"how": ASKED, "to": whom, "as": who, **when, "at": when["asked"], "language": ""}
        event, known = _logged(work, told, data, datetime.fromisoformat(when["asked"]), now, by)
        work.commit()
    return _done(event, told, known, now, "request")


def _of_record(work: UnitOfWork, serial: str) -> _Subject:
    record, packs = record_and_packs(work, serial)
    if record.action == "voided":
        raise UsageError(f"{record.serial} was voided", "Copies are given of what stands")
    return _Subject(about(record, is_notice=False), record.body, packs, zone_of(record.body), record)


def _of_site(
    work: UnitOfWork, directory: Directory, business: Business, key: str, day: str, until: str | None
) -> _Subject:
    site, version = site_of(directory, key)
    first, last = _days(day, until)
    found = directory.customer(site.customer)
    customer = None if found is None else {"id": found[0].id, "name": found[0].name}
    return _Subject(
        {"serial": None, "revision": None, "for": first.isoformat(), "until": last.isoformat()},
        {"site": site_body(site, version), "customer": customer, "date": first.isoformat()},
        state_packs(Rulebook(work.catalogue), business, site.state, first),
        zone_at(site, business),
    )


def _days(day: str, until: str | None) -> tuple[date, date]:
    """Return first and last day of the work that a copy is about."""
    first, last = read_day(day), read_day(until or day, last=True)
    assert first is not None  # noqa: S101 - a text was given
    assert last is not None  # noqa: S101 - a text was given
    if last < first:
        raise UsageError(f"--until {last} is before --for {first}", "Correct one of them")
    if last - first > BEFORE:
        raise UsageError(f"--for {first} to --until {last} is more than a season", "Log each season's copy by itself")
    return first, last


def _logged(
    work: UnitOfWork, told: _Subject, data: Json, moment: datetime, now: datetime, by: str | None
) -> tuple[StoredRevision, list[Delivery]]:
    """Seal the event; return it with what was known of the record before."""
    directory, site = Directory(work.catalogue), told.body["site"] or {}
    business, firm = firm_of(directory)
    known = [] if told.record is None else known_of(work, told.record)
    event = append_event(
        work,
        "delivery",
        {**told.about, **data, **_NO_PAGE},
        now,
        day=moment.date(),
        timezone=told.zone.key,
        business=told.body.get("business") or firm,
        site=site or None,
        person=person_of(directory, by, moment.date(), site.get("state") or business.state),
    )
    return event, known


def _done(event: StoredRevision, told: _Subject, known: list[Delivery], now: datetime, moment: str) -> Delivered:
    done = deliveries_of([event])[0]
    owed = () if told.record is None else owed_copies(told.body, told.packs, [*known, done], now)
    return Delivered(done, None, (), tuple(one for one in owed if one.copy.moment == moment))
