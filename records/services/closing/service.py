"""Closes visits: seal what is right, hold what is not, lose nothing."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from records.domain.findings import Code, Finding, Severity, blocking
from records.errors import HeldStateError, InputError, RecordsError, RefConflictError, SignatureError
from records.rules.engine import evaluate
from records.services.closing.body import compose
from records.services.closing.documents import read_document
from records.services.closing.entry import merge, shown
from records.services.closing.outcome import Base, Outcome, append_body, append_revision, applications, sealed_as
from records.services.closing.past import Memory, Recent, context_of, memory_of, remember
from records.services.closing.reading import read_visit
from records.services.closing.signing import AsApplied, deviation
from records.services.holding import open_entry
from records.services.sealing import digest

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator
    from datetime import datetime

    from records.clock import Clock
    from records.domain.visit import Visit
    from records.services.ports import HeldEntry, Json, OpenBook, StoredRevision, UnitOfWork

VOIDED = "voided"  # what a record became that does not stand any more
AMENDS = "amends"  # beside the parts of an entry that is held: which record it corrects, and why
BATCH = 500  # visits in one transaction of `close_lines`


# What was typed of a visit whose questions were left before their end is held, never sealed.
_LEFT = Finding(Code.MISSING, Severity.STOP, "", "the questions were left before the end; what was typed is kept")


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
        outcome = _close(work, memory_of(work), document, clock, as_applied=as_applied, is_left=is_left)
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
            memory_of(work),
            without_amends(entry.document if document is None else document),
            clock,
            as_applied=as_applied,
            entry=entry,
            is_left=is_left,
            base=_base_of_held(work, entry, clock),
        )
        return _finished(work, outcome)


def without_amends(document: Json) -> Json:
    """Return an entry without what is kept beside it while an amendment is held."""
    return {name: part for name, part in document.items() if name != AMENDS}


def _base_of_held(work: UnitOfWork, entry: HeldEntry, clock: Clock) -> Base | None:
    """Return the record that a held entry amends; None where it is a visit of its own.

    Raises:
        HeldStateError: the record was amended since.
    """
    kept = entry.document.get(AMENDS)
    if not isinstance(kept, dict):
        return None
    from records.services.amending import Why, base_of  # noqa: PLC0415 - which imports this module

    why = Why(kept["reason"], kept["by"], kept.get("account", ""))
    base = base_of(work, kept["serial"], why, clock.now(), newest=bool(kept.get("newest")))
    if kept.get("of", base.last.revision) != base.last.revision:
        # It is the whole text of then: sealing it would quietly take back what was corrected since.
        raise HeldStateError(
            f"{entry.number} corrects revision {kept['of']} of {base.last.serial}, but revision {base.last.revision}"
            " stands now",
            f"Amend what stands (swathbook amend {base.last.serial}), then swathbook held drop {entry.number}",
        )
    return base


def amend_document(
    work: UnitOfWork, base: Base, document: Json, clock: Clock, as_applied: AsApplied | None = None
) -> Outcome:
    """Close a corrected entry over the record it corrects.

    Args:
        work: a writing transaction; the caller commits.
        base: the record.
        document: the whole entry, corrected.
        clock: for the moment.
        as_applied: reason and signer, where a broken limit is sealed as it happened.

    Raises:
        InputError: nothing differs, or the entry has another `ref`.
    """
    return _close(work, memory_of(work), document, clock, as_applied=as_applied, base=base)


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
    recent = Recent()
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


def _batch(book: OpenBook, lines: list[tuple[int, bytes]], clock: Clock, recent: Recent) -> list[Outcome]:
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
    memory: Memory,
    document: Json,
    clock: Clock,
    *,
    as_applied: AsApplied | None = None,
    entry: HeldEntry | None = None,
    is_left: bool = False,
    base: Base | None = None,
) -> Outcome:
    if base is not None:
        document = _with_ref(document, base)
        memory = Memory(base.directory, memory.rulebook)
    fingerprint = digest(document)
    ref = document.get("ref")
    # With a NUL, which not every database can hold, it names nothing; the reader refuses it, and the entry is held.
    ref = ref.strip() or None if isinstance(ref, str) and "\0" not in ref else None
    if (known := _known(work, ref, fingerprint) if base is None else _same(base, fingerprint)) is not None:
        return sealed_as(known, is_repeat=True)
    visit, reader = read_visit(document, memory.directory)
    now = clock.now()
    context = context_of(work, memory, visit, now, base)
    kept = document if base is None else {**document, AMENDS: base.amends}
    findings = [*([_LEFT] if is_left else []), *merge(reader, evaluate(visit, context))]
    entry = entry or _held_before(work, ref if base is None else None, kept)
    if blocking(findings, visit.confirmed, as_applied=as_applied is not None):
        return _hold(work, kept, visit, findings, now, ref, entry)
    signed = None
    if as_applied is not None and blocking(findings, visit.confirmed):
        try:
            signed = deviation(visit, as_applied, memory.directory, now)
        except SignatureError as error:
            outcome = _hold(work, kept, visit, findings, now, ref, entry)
            refusal = SignatureError(f"{error.what}; the visit is held as {outcome.held}", error.hint)
            return replace(outcome, refusal=refusal)
    body = compose(visit, document, fingerprint, findings, context, deviation=signed)
    if base is None:
        revision = append_body(work, body, now)
        remember(memory, visit)
    else:
        # When the record was first complete stays what it was; when this text was made stands in the change.
        body |= {"entered_at": base.first.body["entered_at"], "change": base.change}
        revision = append_revision(work, base.last, body, now)
    if entry is not None:
        _resolve(work, entry, kept, findings, revision.serial, now, signed)
    return sealed_as(revision)


def _known(work: UnitOfWork, ref: str | None, fingerprint: str) -> StoredRevision | None:
    """Return the record that an entry with a reference has become already.

    Raises:
        RefConflictError: it is sealed with other content, or was voided.
    """
    known = None if ref is None else work.records.by_ref(ref)
    if known is None:
        return None
    serial, before = known
    if before != fingerprint:
        raise RefConflictError(str(ref), serial)
    revisions = work.records.revisions(serial)
    if revisions[-1].action == VOIDED:
        raise RefConflictError(str(ref), serial, is_voided=True)
    return revisions[-1]  # what stands: the first text may have been amended since


def _same(base: Base, fingerprint: str) -> StoredRevision | None:
    """Return the revision that says what the entry says, where it was amended to say so before.

    Raises:
        InputError: the record has said so from the beginning.
    """
    if base.newest or base.last.body["document_digest"] != fingerprint:
        return None
    if base.last.revision == 1:
        raise InputError(
            f"nothing differs from what {base.last.serial} says",
            "Correct the entry first; show SERIAL --entry writes it",
        )
    return base.last


def _with_ref(document: Json, base: Base) -> Json:
    """Return a corrected entry with the reference of its record.

    Raises:
        InputError: it has another one.
    """
    ref = base.first.body["ref"]
    typed = document.get("ref")
    if typed is not None and typed != ref:
        raise InputError(
            f"{base.first.serial} has the ref {shown(ref)!r}, the correction {shown(typed)!r}",
            "Leave ref out, or as it was; another visit is closed, not amended",
        )
    return document if ref is None or typed is not None else {"ref": ref, **document}


def _held_before(work: UnitOfWork, ref: str | None, document: Json) -> HeldEntry | None:
    """Return the entry that this one corrects: of the same `ref`; without one, and to amend a record, the very same."""
    if ref is not None:
        return work.held.by_ref(ref)
    return next((entry for entry in work.held.open() if entry.document == document), None)


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
    confirmed = tuple(sorted(visit.confirmed))
    return Outcome("held", held=number, findings=tuple(told), ref=ref, is_repeat=same, confirmed=confirmed)


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


__all__ = [
    "AsApplied",
    "Base",
    "Outcome",
    "RecordsError",
    "amend_document",
    "append_body",
    "append_revision",
    "applications",
    "close_held",
    "close_lines",
    "close_visit",
]
