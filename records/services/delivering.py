"""Records that a notice was given, on paper or by e-mail, and tells what was given and what is owed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from hashlib import sha256
from typing import TYPE_CHECKING

from records.domain.report_model import one_line
from records.errors import MailError, RecordsError, UsageError
from records.rules.advance_checks import first_moment
from records.services.copies import (
    ROLES,
    Copies,
    Delivery,
    OwedCopy,
    RecordCopies,
    deliveries_of,
    owed_copies,
)
from records.services.directory import Directory
from records.services.events import append_event
from records.services.finding import read_day
from records.services.mail_port import Letter
from records.services.notice_content import zone_of
from records.services.notice_words import Reader
from records.services.occasions import (
    firm_of,
    local,
    moment_of,
    person_of,
    shown_moment,
    words_of,
)
from records.services.ports import Packet
from records.services.reporting import first_of, notice_of, record_and_packs
from records.services.rulebook import Rulebook, day_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from datetime import date
    from zoneinfo import ZoneInfo

    from records.clock import Clock
    from records.domain.place import Customer
    from records.rules.pack import Pack
    from records.services.mail_port import Mailer
    from records.services.ports import Json, OpenBook, Renderer, StoredRevision, UnitOfWork
    from records.services.reporting import Notice

HOWS = ("paper", "email")


@dataclass(frozen=True, slots=True)
class Delivered:
    """What recording a delivery or a request did."""

    delivery: Delivery
    notice: Notice | None  # None: the tool did not write what was given
    earlier: tuple[Delivery, ...]  # notices of the same record, before this one
    owed: tuple[OwedCopy, ...]  # as they stand now


def email_address(customer: Customer | None, body: Json, packs: Sequence[Pack]) -> str:
    """Return where a notice may be sent by e-mail.

    Raises:
        MailError: there is no address, no consent on or before the day of the visit, or a rule wants paper.
    """
    on_paper = "or deliver it on paper: --how paper"
    if customer is None:
        raise MailError("the record names no customer of the book", f"Load the customer, {on_paper}")
    copies = [(pack, copy) for pack in packs for copy in pack.copies]
    refused = next((f"{pack.id}: {copy.source.cited}" for pack, copy in copies if copy.electronic == "no"), "")
    if refused:
        raise MailError(f"this notice has to be on paper ({refused})", "Deliver it with --how paper")
    name, day = one_line(customer.name), day_of(body)
    if not customer.email:
        raise MailError(
            f"{name} has no e-mail address in the book",
            f"Load the customer with email and email_consent (the day of the written consent), {on_paper}",
        )
    if customer.email_consent is None or customer.email_consent > day:
        rules = "; ".join(
            dict.fromkeys(f"{pack.id}: {copy.source.cited}" for pack, copy in copies if copy.electronic == "consent")
        )
        since = f" before {customer.email_consent}" if customer.email_consent else ""
        raise MailError(
            f"no written consent of {name} to notices by e-mail is on record{since}, and the visit was on {day}"
            + (f" ({rules})" if rules else ""),
            f"Load the customer with email_consent = the day of the written consent, {on_paper}",
        )
    return customer.email


def deliver(
    book: OpenBook,
    renderer: Renderer,
    serial: str,
    clock: Clock,
    *,
    how: str,
    to: str | None = None,
    role: str | None = None,
    asked: str | None = None,
    at: str | None = None,
    by: str | None = None,
    language: str | None = None,
    paper: str = "letter",
    mailer: Mailer | None = None,
) -> Delivered:
    """Record that a notice was given; with a mailer it is sent first, and recorded only when the server took it.

    Args:
        book: that holds the record.
        renderer: that draws the notice.
        serial: of the record.
        clock: for the present moment.
        how: one of `HOWS`.
        to: whom it was given to; None: the customer.
        role: one of `ROLES`, who that is; None: the customer, whose name `to` has to be then.
        asked: when the customer asked for it, a day or a moment; None: nobody did, as far as is known.
        at: when, as typed; None: now.
        by: id of the person who gave it.
        language: of the notice; None: the customer's own.
        paper: its size.
        mailer: sends it; None: somebody else has done that.

    Raises:
        UsageError: the words make no sense together.
        NotFoundError: no such record or person.
        MailError: it may not go by e-mail, is to be sent with a piece missing that a rule wants, or the server did not
            take it.
    """
    check_how(how)
    if mailer is not None and (how != "email" or at is not None):
        raise UsageError("--send is for --how email, now", "Leave out --send, or write --how email without --at")
    now = clock.now()
    with book.read() as work:
        record, packs = record_and_packs(work, serial)
        if record.action == "voided":
            raise UsageError(f"{record.serial} was voided", "A notice is given of what stands")
        directory, body = Directory(work.catalogue), record.body
        business, firm = firm_of(directory)
        moment = moment_of(at, "--at", zone_of(body), now)
        _check_moment(moment, body)
        _check_text(moment, record)
        customer = customer_of(directory, body)
        whom, who = whom_of(how, to, role, customer, body, packs)
        person = person_of(directory, by, moment.date(), (body["site"] or {}).get("state") or business.state)
        known, first = known_of(work, record), first_of(work, record)
    made = notice_of(record, packs, renderer, moment.date(), language=language, paper=paper, first=first)
    # Only what the customer got is named as the record's notice; the rest is named apart, so that nothing counts it.
    data: Json = {
        **about(record, is_notice=who in {"customer", "agent"}),
        "how": how,
        "to": whom,
        "as": who,
        **asked_at(asked, zone_of(body), now),
        "at": local(moment),
        "language": made.model.language,
        "paper": paper,
        "sha256": sha256(made.pdf).hexdigest(),
        "message_id": "",
    }
    if mailer is not None:
        _check_whole(made)
        data["message_id"] = mailer.send(_letter(record, made, renderer, data, business.email, now))
    frozen = {"business": body["business"] or firm, "site": body["site"], "person": person}
    event = _record(book, data, frozen, moment, now, zone_of(body).key)
    done = deliveries_of([event])[0]
    earlier = tuple(one for one in known if one.is_notice)
    return Delivered(done, made, earlier, owed_copies(body, packs, [*known, done], now))


def about(record: StoredRevision, *, is_notice: bool) -> Json:
    """Return what an event is about: under `serial` only what the customer got as the notice of a record."""
    if is_notice:
        return {"serial": record.serial, "revision": record.revision}
    return {"serial": None, "record": record.serial, "revision": record.revision}


def asked_at(text: str | None, zone: ZoneInfo, now: datetime) -> Json:
    """Return when something was asked for, as it is sealed; a day alone counts from its beginning."""
    if text is None:
        return {}
    if len(text.strip()) == len("2026-05-14") and (day := read_day(text)) is not None:
        moment = first_moment(day, zone)
        if moment.timestamp() > now.timestamp():
            raise UsageError(f"--asked {day} lies in the future", f"It is {now.astimezone(zone):%Y-%m-%d %H:%M} there")
        return {"asked": local(moment)}
    return {"asked": local(moment_of(text, "--asked", zone, now))}


def check_how(how: str) -> None:
    """Refuse a way of giving that is none.

    Raises:
        UsageError: it is none of `HOWS`.
    """
    if how not in HOWS:
        raise UsageError(f"--how {how[:20]!r} is no way to deliver a notice", f"One of: {', '.join(HOWS)}")


def customer_of(directory: Directory, body: Json) -> Customer | None:
    """Return the customer of a record as loaded now."""
    found = directory.customer(str((body["customer"] or {}).get("id") or ""))
    return None if found is None else found[0]


def known_of(work: UnitOfWork, record: StoredRevision) -> list[Delivery]:
    """Return what was given, or asked for, of a record so far."""
    site = (record.body["site"] or {}).get("id")
    return Copies(work.records.events("delivery", site=site)).of(record.serial, record.body)


def _record(
    book: OpenBook, data: Json, frozen: dict[str, Json | None], moment: datetime, now: datetime, zone: str
) -> StoredRevision:
    """Seal the delivery; when that fails after the e-mail went out, say how to log it later."""
    try:
        with book.write() as work:
            event = append_event(work, "delivery", data, now, day=moment.date(), timezone=zone, **frozen)
            work.commit()
    except RecordsError as error:
        if data["message_id"]:
            error.hint = (
                f"The e-mail went out all the same; log it later: swathbook deliver {data['serial']} --how email "
                f"--at {data['at']}. {error.hint}"
            )
        raise
    return event


def _check_whole(made: Notice) -> None:
    """Refuse to send what a rule wants more on: nobody can write that in by hand on its way."""
    lacks = [lack for lack in made.lacking if lack.binds]
    if lacks:
        told = "; ".join(f"{lack.words} ({lack.wanted[0].pack}: {lack.wanted[0].source.cited})" for lack in lacks)
        hint = "Print it with swathbook notice, write that in by hand, and deliver it with --how paper"
        raise MailError(f"this notice does not say {told}", hint)


def _check_moment(moment: datetime, body: Json) -> None:
    begun = (body["started"] or body["finished"] or {}).get("utc")
    if begun and moment.timestamp() < datetime.fromisoformat(begun).timestamp():
        told = f"--at {shown_moment(moment)} is before the work began that the notice tells of"
        raise UsageError(told, "Correct the moment; a copy that was owed before the work is logged with --before")


def _check_text(moment: datetime, record: StoredRevision) -> None:
    """Refuse a moment at which the text that stands was not sealed yet: another notice was given then.

    Raises:
        UsageError: it was not.
    """
    if record.revision > 1 and moment.timestamp() < datetime.fromisoformat(record.sealed_at).timestamp() - 60:
        raise UsageError(
            f"revision {record.revision} of {record.serial} was not there yet at {shown_moment(moment)}",
            "What is logged is the notice of what stands now; leave --at out, or give the moment since the correction",
        )


def whom_of(
    how: str, to: str | None, role: str | None, customer: Customer | None, body: Json, packs: Sequence[Pack]
) -> tuple[str, str]:
    """Return whom something went to, and who that is."""
    typed, name = words_of(to, "--to", 200), one_line((body["customer"] or {}).get("name"))
    if role is not None and role not in ROLES:
        raise UsageError(f"--as {role[:20]!r} is nobody a notice is given to", f"One of: {', '.join(ROLES)}")
    if how == "email":
        address = email_address(customer, body, packs)
        if (typed and typed.casefold() != address.casefold()) or role not in {None, "customer"}:
            raise UsageError(
                f"{f'--to {typed[:60]!r}' if typed else f'--as {role}'} is not the customer's e-mail address, and the "
                "consent is for that one",
                "Leave out --to and --as, or load the customer with the other address",
            )
        return address, "customer"
    if not typed:
        if role not in {None, "customer"}:
            raise UsageError(f"--as {role} does not say who that is", "Add --to NAME")
        return name or "the customer", "customer"
    if role is None and " ".join(typed.casefold().split()) != " ".join(name.casefold().split()):
        raise UsageError(
            f"--to {typed[:60]!r} is not the customer's name" + (f" ({name})" if name else ""),
            "Say who that is: --as customer (also for what was left at the customer's door), agent, occupant, or other",
        )
    return typed, role or "customer"


def _letter(
    record: StoredRevision, made: Notice, renderer: Renderer, data: Json, firm_email: str, now: datetime
) -> Letter:
    wording = renderer.wording(made.model.language)
    read, body, firm = Reader(wording), record.body, made.model.firm
    places = {"date": read.when(body) or read.not_recorded, "address": made.model.recipient[1].value}
    mark = f"{record.serial} {record.revision} {data['to']} {now.timestamp()} {data['sha256']}"
    return Letter(
        to=data["to"],
        to_name=one_line((body["customer"] or {}).get("name")),
        firm=firm.name,
        firm_email=firm_email,
        subject=wording("mail.subject", **places),
        text=wording("mail.text", **places, firm=firm.name, phone=firm.phone),
        pdf=made.pdf,
        file=made.file,
        message_id=f"{record.serial}.{sha256(mark.encode()).hexdigest()[:24]}",
        at=now.astimezone(zone_of(body)),
    )


def deliveries(
    book: OpenBook, clock: Clock, since: date | None = None, until: date | None = None, site: str | None = None
) -> Iterator[RecordCopies]:
    """Yield what each record of some days owes and what was given of it, by day.

    Args:
        book: that holds the records.
        clock: for what is overdue.
        since: first day of the work; None: from the beginning.
        until: last day of the work; None: to the end.
        site: only this one, by id.
    """
    now = clock.now()
    with book.read() as work:
        copies = Copies.since(work, since)
        found, rulebook = Directory(work.catalogue).business(), Rulebook(work.catalogue)
        business = None if found is None else found[0]
        sites = frozenset[str]() if site is None else frozenset({site})
        orders = [match.order for match in work.records.matching(Packet(since=since, until=until, sites=sites))]
        for record in work.records.bodies(orders):
            if record.action == "voided":
                continue
            own = tuple(copies.of(record.serial, record.body))
            packs = rulebook.of_record(record.body, business)
            yield RecordCopies(record, own, owed_copies(record.body, packs, own, now))
