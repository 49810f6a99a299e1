"""Records that a notice was given, on paper or by e-mail, and tells what was given and what is owed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from hashlib import sha256
from typing import TYPE_CHECKING

from records.domain.report_model import one_line
from records.domain.spans import LAST
from records.errors import MailError, RecordsError, UsageError
from records.services.directory import Directory
from records.services.events import append_event
from records.services.mail_port import Letter
from records.services.notice_content import ended, has_pesticide, told_when, zone_of
from records.services.notice_words import Reader
from records.services.occasions import firm_of, local, moment_of, person_of, shown_moment, words_of
from records.services.ports import Packet
from records.services.reporting import notice_of, record_and_packs
from records.services.rulebook import Rulebook, day_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence
    from datetime import date

    from records.clock import Clock
    from records.domain.place import Customer
    from records.rules.pack import CustomerCopy, Pack
    from records.services.mail_port import Mailer
    from records.services.ports import Json, OpenBook, Renderer, StoredRevision
    from records.services.reporting import Notice

HOWS = ("paper", "email")
AFTERWARDS = ("visit", "days")  # moments of copies that each visit owes; the others are owed before, or to who asks
STATES = ("overdue", "owed", "late", "given", "none")  # worst first


@dataclass(frozen=True, slots=True)
class Delivery:
    """A notice that was given."""

    event: str  # serial of the sealed event
    serial: str  # of the record it tells of
    revision: int
    how: str
    to: str
    at: datetime  # aware, local
    language: str
    sha256: str  # of the PDF
    message_id: str  # "" unless this tool sent it

    @property
    def told(self) -> str:
        """Return how, when and to whom in one line."""
        return f"{'by e-mail' if self.how == 'email' else 'on paper'} {shown_moment(self.at)} to {self.to}"

    def document(self) -> Json:
        """Return it as plain JSON."""
        return {
            "event": self.event,
            "serial": self.serial,
            "revision": self.revision,
            "how": self.how,
            "to": self.to,
            "at": local(self.at),
            "language": self.language,
            "sha256": self.sha256,
            "message_id": self.message_id,
        }


@dataclass(frozen=True, slots=True)
class OwedCopy:
    """A copy that a pack owes the customer for one visit."""

    pack: str
    copy: CustomerCopy
    due: datetime
    state: str  # "given", "late" (given after it was due), "owed" (not due yet), "overdue"

    @property
    def told(self) -> str:
        """Return pack, moment, citation and status in one line."""
        return f"{self.pack}: {self.copy.source.cited}, {told_when(self.copy)}"


@dataclass(frozen=True, slots=True)
class RecordCopies:
    """What one record owes, and what was given of it."""

    record: StoredRevision
    given: tuple[Delivery, ...]
    owed: tuple[OwedCopy, ...]

    @property
    def state(self) -> str:
        """Return the worst that is to be said of it; "none" where no rule of the place owes a copy."""
        found = {copy.state for copy in self.owed} or ({"given"} if self.given else {"none"})
        return min(found, key=STATES.index)

    @property
    def is_old(self) -> bool:
        """Tell whether what was given last is older than the record's latest revision."""
        return bool(self.given) and self.given[-1].revision < self.record.revision

    def document(self) -> Json:
        """Return it as plain JSON."""
        body = self.record.body
        return {
            "serial": self.record.serial,
            "revision": self.record.revision,
            "date": body["date"],
            "site": (body["site"] or {}).get("id"),
            "customer": (body["customer"] or {}).get("name"),
            "state": self.state,
            "given": [one.document() for one in self.given],
            "owed": [
                {
                    "pack": one.pack,
                    "when": told_when(one.copy),
                    "due": local(one.due),
                    "state": one.state,
                    "citation": one.copy.source.citation,
                    "status": one.copy.source.status.value,
                }
                for one in self.owed
            ],
        }


@dataclass(frozen=True, slots=True)
class Delivered:
    """What recording a delivery did."""

    delivery: Delivery
    notice: Notice
    earlier: tuple[Delivery, ...]  # the same record's, before this one
    owed: tuple[OwedCopy, ...]  # as they stand now


def deliveries_of(events: Iterable[StoredRevision]) -> list[Delivery]:
    """Return the deliveries that sealed events tell of, in their order."""
    found = []
    for event in events:
        data = event.body["data"]
        at = datetime.fromisoformat(data["at"]).astimezone(zone_of(event.body))
        plain = {key: data[key] for key in ("serial", "revision", "how", "to", "language", "sha256", "message_id")}
        found.append(Delivery(event=event.serial, at=at, **plain))
    return found


def owed_copies(body: Json, packs: Sequence[Pack], given: Sequence[Delivery], now: datetime) -> tuple[OwedCopy, ...]:
    """Return the copies that rules owe the customer for a visit, each with how it stands.

    Owed at the visit means by the end of its day. What has to be given before any work, or to those who ask, is not
    owed by each visit. Records from elsewhere (imports) are left out: what was given then is not in this book.

    Args:
        body: of the record's latest revision.
        packs: that judge it.
        given: deliveries of that record.
        now: the present moment.
    """
    end = ended(body)
    if end is None or (body.get("origin") or {}).get("kind") == "import" or not has_pesticide(body):
        return ()
    first = min((one.at for one in given), key=datetime.timestamp, default=None)
    found = []
    for pack in packs:
        for copy in pack.copies:
            if copy.moment not in AFTERWARDS:
                continue
            due = datetime.combine(end.date(), LAST, tzinfo=end.tzinfo)
            if copy.within is not None and copy.moment == "days":
                due = copy.within.end_after(end)
            if first is None:
                state = "overdue" if now.timestamp() > due.timestamp() else "owed"
            else:
                state = "late" if first.timestamp() > due.timestamp() else "given"
            found.append(OwedCopy(pack.id, copy, due, state))
    return tuple(found)


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
    if how not in HOWS:
        raise UsageError(f"--how {how[:20]!r} is no way to deliver a notice", f"One of: {', '.join(HOWS)}")
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
        customer = directory.customer(str((body["customer"] or {}).get("id") or ""))
        whom = _whom(how, to, None if customer is None else customer[0], body, packs)
        person = person_of(directory, by, moment.date(), (body["site"] or {}).get("state") or business.state)
        earlier = _deliveries(work.records.events("delivery", site=(body["site"] or {}).get("id")), record.serial)
    made = notice_of(record, packs, renderer, moment.date(), language=language, paper=paper)
    data: Json = {
        "serial": record.serial,
        "revision": record.revision,
        "how": how,
        "to": whom,
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
    return Delivered(done, made, tuple(earlier), owed_copies(body, packs, [*earlier, done], now))


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
        raise UsageError(told, "Correct the moment")


def _whom(how: str, to: str | None, customer: Customer | None, body: Json, packs: Sequence[Pack]) -> str:
    typed = words_of(to, "--to", 200)
    if how != "email":
        return typed or one_line((body["customer"] or {}).get("name")) or "the customer"
    address = email_address(customer, body, packs)
    if typed and typed.casefold() != address.casefold():
        raise UsageError(
            f"--to {typed[:60]!r} is not the customer's e-mail address, and the consent is for that one",
            "Leave out --to, or load the customer with the other address",
        )
    return address


def _deliveries(events: Iterable[StoredRevision], serial: str) -> list[Delivery]:
    return deliveries_of(event for event in events if event.body["data"].get("serial") == serial)


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
    book: OpenBook, clock: Clock, since: date | None = None, until: date | None = None
) -> Iterator[RecordCopies]:
    """Yield what each record of some days owes and what was given of it, by day.

    Args:
        book: that holds the records.
        clock: for what is overdue.
        since: first day of the work; None: from the beginning.
        until: last day of the work; None: to the end.
    """
    now = clock.now()
    with book.read() as work:
        given: dict[str, list[Delivery]] = {}
        for one in deliveries_of(work.records.events("delivery", since=since)):
            given.setdefault(one.serial, []).append(one)
        found, rulebook = Directory(work.catalogue).business(), Rulebook(work.catalogue)
        business = None if found is None else found[0]
        orders = [match.order for match in work.records.matching(Packet(since=since, until=until))]
        for record in work.records.bodies(orders):
            if record.action == "voided":
                continue
            own = tuple(given.get(record.serial, ()))
            packs = rulebook.of_record(record.body, business)
            yield RecordCopies(record, own, owed_copies(record.body, packs, own, now))
