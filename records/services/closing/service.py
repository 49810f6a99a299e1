"""Closes visits: seal what is right, hold what is not, lose nothing."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import date, datetime
from functools import lru_cache
from typing import TYPE_CHECKING

from records.clock import instant_text
from records.domain.ceilings import add_months
from records.domain.findings import Code, Finding, Severity, blocking
from records.domain.unlikely import Usual
from records.errors import InputError, RecordsError, RefConflictError, SignatureError
from records.rules.context import Context
from records.rules.engine import evaluate
from records.rules.plausibility import rate_per_area
from records.services.advance import contacts_of
from records.services.closing.body import compose
from records.services.closing.documents import read_document
from records.services.closing.entry import merge
from records.services.closing.reading import read_visit
from records.services.closing.signing import AsApplied, deviation
from records.services.directory import Directory
from records.services.holding import open_entry
from records.services.ports import HeldEntry, Json, OpenBook, StoredRevision, UnitOfWork
from records.services.rulebook import Rulebook
from records.services.sealing import digest, sealed

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

    from records.clock import Clock
    from records.domain.product import Label
    from records.domain.visit import Visit

USUAL = 101  # sealed applications that the median of a product and method is taken from
BATCH = 500  # visits in one transaction of `close_lines`


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of an entry."""

    status: str  # "sealed", "held" or "refused"
    serial: str | None = None
    held: str | None = None
    deviation: bool = False
    applications: tuple[Json, ...] = ()
    findings: tuple[dict[str, str], ...] = ()
    ref: str | None = None
    error: str = ""  # of a refused line
    is_repeat: bool = False  # was already in the book; nothing was written
    line: int = 0  # of a file of many, counted from one
    body: Json | None = None
    refusal: SignatureError | None = None  # why the signature was refused that it needs

    def document(self) -> Json:
        """Return the answer in the form of the outside contract."""
        document: Json = {
            "schema": 1,
            "status": self.status,
            "serial": self.serial,
            "held": self.held,
            "deviation": self.deviation,
            "applications": list(self.applications),
            "findings": list(self.findings),
        }
        if self.line:
            document["line"] = self.line
        if self.error:
            document["error"] = self.error
        return document


@dataclass(slots=True)
class _Memory:
    """What one transaction may remember between visits."""

    directory: Directory
    rulebook: Rulebook
    usual: dict[tuple[str, str], Usual] = field(default_factory=dict)


def _memory(work: UnitOfWork) -> _Memory:
    return _Memory(Directory(work.catalogue), Rulebook(work.catalogue))


# What was typed of a visit whose questions were left before their end is held, never sealed.
_LEFT = Finding(Code.MISSING, Severity.STOP, "", "the questions were left before the end; what was typed is kept")


@dataclass(slots=True)
class _Recent:
    """What is kept from one transaction to the next: as good as read again while no one else wrote meanwhile."""

    head: str = ""
    documents: int = 0  # in the catalogue, from which nothing is ever taken away
    directory: Directory | None = None
    usual: dict[tuple[str, str], Usual] = field(default_factory=dict)

    def memory(self, work: UnitOfWork) -> _Memory:
        """Return what may be remembered in a transaction that has just begun."""
        if work.records.head() != self.head:
            self.usual.clear()
        documents = work.catalogue.count()
        is_same = self.directory is not None and documents == self.documents
        self.directory = Directory(work.catalogue, self.directory if is_same else None)
        self.documents = documents
        return _Memory(self.directory, Rulebook(work.catalogue), self.usual)


def close_visit(
    book: OpenBook, document: Json, clock: Clock, as_applied: AsApplied | None = None, *, is_left: bool = False
) -> Outcome:
    """Close one visit.

    Args:
        book: to seal it in.
        document: as typed.
        clock: for the moment of entry.
        as_applied: reason and signer, where a broken limit is sealed as it happened.
        is_left: whether it was left unfinished, and is held whatever it says.

    Returns:
        Sealed with its serial, or held with its number and all findings.

    Raises:
        RefConflictError: its `ref` is sealed already with other content.
        SignatureError: the signer is not certified; the visit is held.
    """
    with book.write() as work:
        outcome = _close(work, _memory(work), document, clock, as_applied=as_applied, is_left=is_left)
        return _finished(work, outcome)


def close_held(
    book: OpenBook,
    number: str,
    document: Json | None,
    clock: Clock,
    as_applied: AsApplied | None = None,
    *,
    is_left: bool = False,
) -> Outcome:
    """Close a held entry again, corrected or, where only a signature was lacking, as it stands.

    Raises:
        NotFoundError: no such held entry.
        HeldStateError: it was sealed or dropped already.
        RefConflictError: its `ref` is sealed already with other content.
        SignatureError: the signer is not certified; it stays held, as corrected.
    """
    with book.write() as work:
        entry = open_entry(work, number)
        outcome = _close(
            work,
            _memory(work),
            entry.document if document is None else document,
            clock,
            as_applied=as_applied,
            entry=entry,
            is_left=is_left,
        )
        return _finished(work, outcome)


def _finished(work: UnitOfWork, outcome: Outcome) -> Outcome:
    """Make an outcome durable. A refused signature is told after that: what was typed is held, not lost."""
    if not outcome.is_repeat:
        work.commit()
    if outcome.refusal is not None:
        raise outcome.refusal
    return outcome


def close_lines(
    book: OpenBook, lines: Iterable[bytes], clock: Clock, told: Callable[[int], None] = lambda _: None
) -> Iterator[Outcome]:
    """Close many visits, one JSON document a line; each gets its own verdict, none is half done.

    Verdicts are given once the transaction that holds them is durable, so nothing told is ever lost. Memory stays flat:
    at most `BATCH` documents are in hand.

    Args:
        book: to seal them in.
        lines: of the file; blank ones are passed over, though they count for the number of a line.
        clock: for the moment of entry.
        told: called with the number of lines done, after each transaction.
    """
    batch: list[tuple[int, bytes]] = []
    done = 0
    recent = _Recent()
    for number, line in enumerate(lines, 1):
        if line.strip():
            batch.append((number, line))
        if len(batch) >= BATCH:
            yield from _batch(book, batch, clock, recent)
            done += len(batch)
            told(done)
            batch = []
    if batch:
        yield from _batch(book, batch, clock, recent)
        told(done + len(batch))


def _batch(book: OpenBook, lines: list[tuple[int, bytes]], clock: Clock, recent: _Recent) -> list[Outcome]:
    outcomes = []
    with book.write() as work:
        memory = recent.memory(work)
        for number, line in lines:
            name = f"line {number}"
            try:
                outcome = _close(work, memory, read_document(line, name), clock)
                outcomes.append(replace(outcome, line=number))
            except (InputError, RefConflictError) as error:
                # Both are raised before anything of this line is written.
                said = str(error)
                outcomes.append(
                    Outcome("refused", error=said if said.startswith(name) else f"{name}: {said}", line=number)
                )
        recent.head = work.records.head()
        work.commit()
    return outcomes


def _close(
    work: UnitOfWork,
    memory: _Memory,
    document: Json,
    clock: Clock,
    *,
    as_applied: AsApplied | None = None,
    entry: HeldEntry | None = None,
    is_left: bool = False,
) -> Outcome:
    fingerprint = digest(document)
    ref = document.get("ref")
    ref = ref.strip() or None if isinstance(ref, str) else None
    if ref is not None and (known := work.records.by_ref(ref)) is not None:
        serial, before = known
        if before != fingerprint:
            raise RefConflictError(ref, serial)
        return _sealed(work.records.revisions(serial)[0], is_repeat=True)
    visit, reader = read_visit(document, memory.directory)
    now = clock.now()
    context = _context(work, memory, visit, now)
    findings = [*([_LEFT] if is_left else []), *merge(reader, evaluate(visit, context))]
    entry = entry or _held_before(work, ref, document)
    if blocking(findings, visit.confirmed, as_applied=as_applied is not None):
        return _hold(work, document, visit, findings, now, ref, entry)
    signed = None
    if as_applied is not None and blocking(findings, visit.confirmed):
        try:
            signed = deviation(visit, as_applied, memory.directory, now)
        except SignatureError as error:
            outcome = _hold(work, document, visit, findings, now, ref, entry)
            refusal = SignatureError(f"{error.what}; the visit is held as {outcome.held}", error.hint)
            return replace(outcome, refusal=refusal)
    body = compose(visit, document, fingerprint, findings, context, deviation=signed)
    revision = append_body(work, body, now)
    _remember(memory, visit)
    if entry is not None:
        _resolve(work, entry, document, findings, revision.serial, now, signed)
    return _sealed(revision)


def append_body(work: UnitOfWork, body: Json, now: datetime) -> StoredRevision:
    """Number, chain and store a new record."""
    year = int(body["period"][:4])
    serial = f"{year}-{work.records.next_number(year):06d}"
    previous, sealed_at = work.records.head(), instant_text(now)
    mark, text = sealed(previous, serial, 1, sealed_at, body)
    revision = StoredRevision(
        order=0,
        serial=serial,
        revision=1,
        action="sealed",
        sealed_at=sealed_at,
        previous=previous,
        seal=mark,
        body=body,
        text=text,
    )
    work.records.append(revision)
    return revision


def _since(visit: Visit, day: date) -> date:
    """Return the first day of the past that any window or interval of the entry's labels can reach."""
    labels = [line.product.label for treatment in visit.treatments for line in treatment.lines]
    months = max((_reach(label) for label in labels if label is not None), default=0)
    return min(date(day.year - 1, 1, 1), add_months(day, -months - 1))


@lru_cache(maxsize=1024)
def _reach(label: Label) -> int:
    """Return how many months back the windows and intervals of a label reach, rounded up."""
    months = 0
    for limits in (label.limits, *(use.limits for use in label.uses if use.limits is not None)):
        window = limits.window.length if limits.window.kind == "months" else limits.window.length // 28
        interval = limits.interval_days.value // 28 + 1 if limits.interval_days else 0
        months = max(months, window, interval)
    return months


def _context(work: UnitOfWork, memory: _Memory, visit: Visit, now: datetime) -> Context:
    def usual(product: str, method: str) -> Usual:
        if (product, method) not in memory.usual:
            memory.usual[product, method] = Usual(work.records.recent_rates(product, method, USUAL), USUAL)
        return memory.usual[product, method]

    site, day = visit.site, visit.day
    packs = memory.rulebook.for_work(
        visit.business,
        visit.business.state if site is None else site.state,
        day or now.date(),
        has_restricted=any(line.product.restricted_use for t in visit.treatments for line in t.lines),
    )
    if site is None or day is None:
        return Context(now, packs, product=memory.directory.product, recent_rates=usual)
    return Context(
        now,
        packs,
        history=work.records.history(site.id, _since(visit, day)),
        contacts=contacts_of(work.records.events("contact", site=site.id)) if site.notify else (),
        same_day=work.records.on_site(site.id, day),
        product=memory.directory.product,
        recent_rates=usual,
    )


def _remember(memory: _Memory, visit: Visit) -> None:
    for treatment in visit.treatments:
        for line in treatment.lines:
            usual = memory.usual.get((line.product.id, treatment.method))
            rate = rate_per_area(line, treatment)
            if usual is not None and rate is not None:
                usual.add(rate)


def _held_before(work: UnitOfWork, ref: str | None, document: Json) -> HeldEntry | None:
    if ref is not None:
        return work.held.by_ref(ref)
    return next((entry for entry in work.held.open() if entry.ref is None and entry.document == document), None)


def _hold(
    work: UnitOfWork,
    document: Json,
    visit: Visit,
    findings: list[Finding],
    now: datetime,
    ref: str | None,
    entry: HeldEntry | None,
) -> Outcome:
    told = [finding.document() for finding in findings]
    same = entry is not None and entry.document == document and entry.findings == told
    number = work.held.next_number() if entry is None else entry.number
    if not same:
        work.held.add(
            number,
            "held" if entry is None else "corrected",
            now,
            document=document,
            findings=told,
            ref=ref,
            person=visit.applicator.id if visit.applicator else None,
        )
    return Outcome("held", held=number, findings=tuple(told), ref=ref, is_repeat=same)


def _resolve(
    work: UnitOfWork,
    entry: HeldEntry,
    document: Json,
    findings: list[Finding],
    serial: str,
    now: datetime,
    signed: Json | None,
) -> None:
    work.held.add(
        entry.number,
        "sealed",
        now,
        document=document,
        findings=[finding.document() for finding in findings],
        ref=entry.ref,
        person=entry.person,
        reason="" if signed is None else str(signed["reason"]),
        serial=serial,
    )


def _sealed(revision: StoredRevision, *, is_repeat: bool = False) -> Outcome:
    body = revision.body
    return Outcome(
        "sealed",
        serial=revision.serial,
        deviation=body["deviation"] is not None,
        applications=tuple(applications(body)),
        findings=tuple(body["findings"]),
        ref=body["ref"],
        is_repeat=is_repeat,
        body=body,
    )


def applications(body: Json) -> Iterator[Json]:
    """Yield the applications of a body in the short form of the outside contract."""
    for index, treatment in enumerate(body["treatments"]):
        for line in treatment["applications"]:
            yield {
                "treatment": index,
                "product": line["product"]["id"],
                "registration": line["product"]["registration"] or None,
                "rate": line["rate"],
                "amount": line["amount"],
                "area": line["area"],
            }


__all__ = ["AsApplied", "Outcome", "RecordsError", "append_body", "close_held", "close_lines", "close_visit"]
