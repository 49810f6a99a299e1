"""Held entries: list, look, drop with a reason. Correcting one is closing it again."""

from __future__ import annotations

from typing import TYPE_CHECKING

from records.errors import HeldStateError, NotFoundError, UsageError

if TYPE_CHECKING:
    from records.clock import Clock
    from records.services.ports import HeldEntry, OpenBook, UnitOfWork


def open_entry(work: UnitOfWork, number: str) -> HeldEntry:
    """Return an entry that is still held.

    Raises:
        NotFoundError: no such entry.
        HeldStateError: it was sealed or dropped already.
    """
    entry = get_entry(work, number)
    if entry.state not in {"held", "corrected"}:
        raise HeldStateError(
            f"{entry.number} was {entry.state}" + (f" as {entry.serial}" if entry.serial else ""),
            "swathbook held lists what is still held",
        )
    return entry


def get_entry(work: UnitOfWork, number: str) -> HeldEntry:
    """Return an entry in whatever state.

    Raises:
        NotFoundError: no such entry.
    """
    entry = work.held.get(number.strip().upper())
    if entry is None:
        raise NotFoundError(f"no held entry {number[:20]!r}", "swathbook held lists them")
    return entry


def list_held(book: OpenBook) -> list[HeldEntry]:
    """Return what is still held, oldest first."""
    with book.read() as work:
        return work.held.open()


def show_held(book: OpenBook, number: str) -> HeldEntry:
    """Return one entry in whatever state.

    Raises:
        NotFoundError: no such entry.
    """
    with book.read() as work:
        return get_entry(work, number)


def drop_held(book: OpenBook, number: str, reason: str, clock: Clock) -> HeldEntry:
    """Drop an entry that never was a visit; its text and the reason stay in the book.

    Raises:
        NotFoundError: no such entry.
        HeldStateError: it was sealed or dropped already.
        UsageError: no reason was given.
    """
    reason = " ".join(reason.split())
    if not reason:
        raise UsageError("dropping an entry needs a reason", "Add --reason 'why this never was a visit'")
    with book.write() as work:
        entry = open_entry(work, number)
        work.held.add(
            entry.number,
            "dropped",
            clock.now(),
            document=entry.document,
            findings=entry.findings,
            ref=entry.ref,
            person=entry.person,
            reason=reason,
        )
        work.commit()
        return get_entry(work, number)
