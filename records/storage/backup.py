"""Copies of a book: made while others write, read back before they get their name, never over something unasked.

A file is copied by SQLite's own backup, which waits for writers, never by its bytes. A server's book is exported.
"""

from __future__ import annotations

import os
import sqlite3
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from records.errors import BookDamagedError, InputError, StorageError, UsageError
from records.services.moving.exporting import export_book, export_chain
from records.services.moving.importing import check_export
from records.storage.engine import connect, create_file
from records.storage.faults import translated
from records.storage.placing import draft_for, new_file, place, refuse_existing

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import datetime

    from records.services.moving.exporting import Exported
    from records.services.moving.ports import Extent
    from records.storage.unit_of_work import SqlBook

# A small book is copied in one go, while writers wait; a large one in steps that let them in between
_AT_ONCE = 64_000_000  # bytes
_STEP = 4096  # pages
_RESTARTS = 3  # each time someone has written, SQLite begins anew; after these, writers wait


@dataclass(frozen=True, slots=True)
class Backup:
    """What a backup holds."""

    path: Path
    kind: str  # "book" (a file to open) or "export" (lines of JSON)
    size: int
    extent: Extent


class _TooBusyError(Exception):
    """Others write too often for a copy in steps."""


def free_name(wanted: Path) -> Path:
    """Return a name beside the wanted one that no file has yet."""
    candidate, count = wanted, 1
    while os.path.lexists(candidate):
        count += 1
        candidate = wanted.with_name(f"{wanted.name}-{count}")
    return candidate


def copy_book(source: Path, target: Path) -> None:
    """Copy a book into a new file that only its owner can read.

    Args:
        source: an existing book.
        target: where nothing is yet.

    Raises:
        BookMissingError: there is no book to copy.
        StorageError: the target exists or cannot be written.
    """
    if os.path.lexists(target):
        raise StorageError(f"{target} already exists", "Name a new file for the copy")
    with translated(str(target)):
        reading = connect(source)
        try:
            create_file(target)
            writing = sqlite3.connect(target)
            try:
                _copy(reading, writing, small=source.stat().st_size <= _AT_ONCE)
            finally:
                writing.close()
        except BaseException:
            Path(target).unlink(missing_ok=True)
            raise
        finally:
            reading.close()


def _copy(reading: sqlite3.Connection, writing: sqlite3.Connection, *, small: bool) -> None:
    if not small:
        try:
            reading.backup(writing, pages=_STEP, progress=_watch(_RESTARTS))
        except _TooBusyError:
            pass
        else:
            return
    reading.backup(writing)


def _watch(restarts: int) -> Callable[[int, int, int], None]:
    """Return what gives up a copy that had to begin anew too often."""
    left, before = restarts, 0

    def progress(_: int, remaining: int, total: int) -> None:
        nonlocal left, before
        if before and remaining > before:
            left -= 1
        before = remaining
        if left < 0:
            raise _TooBusyError(total)

    return progress


def export_file(book: SqlBook, target: Path, now: datetime, *, replace: bool, chain: bool = False) -> Exported:
    """Write a book's export into a file that only its owner can read.

    Args:
        book: to export.
        target: the file.
        now: the moment of export.
        replace: it may take the place of a file of that name.
        chain: write the chain alone.

    Raises:
        OverwriteError: something of that name is there.
        OutputError: the file cannot be written.
        BookDamagedError: something stored cannot be read.
    """
    refuse_existing(target, replace=replace)
    with draft_for(target) as draft:
        done = _export(book, draft, now, chain=chain)
        place(draft, target, replace=replace)
    return done


def _export(book: SqlBook, draft: Path, now: datetime, *, chain: bool = False) -> Exported:
    with os.fdopen(new_file(draft), "wb") as stream, book.read() as work:
        return export_chain(work.moving, stream) if chain else export_book(work.moving, stream, now)


def backup_book(book: SqlBook, target: Path, now: datetime, *, replace: bool) -> Backup:
    """Copy a book, and read the copy back before it gets its name.

    Args:
        book: to copy; others may write to it meanwhile.
        target: the file.
        now: the moment of the backup.
        replace: it may take the place of a file of that name.

    Raises:
        UsageError: the target is the book itself.
        OverwriteError: something of that name is there.
        BookDamagedError: the book does not verify; no copy is kept.
        OutputError: the file cannot be written.
    """
    if book.server is None and target.exists() and target.samefile(book.path):
        raise UsageError(f"{target} is the book itself", "Name another file for the backup")
    refuse_existing(target, replace=replace)
    with draft_for(target) as draft:
        extent = _copied(book, draft) if book.server is None else _exported(book, draft, now)
        size = draft.stat().st_size
        place(draft, target, replace=replace)
    return Backup(target, "export" if book.server else "book", size, extent)


def _copied(book: SqlBook, draft: Path) -> Extent:
    """Copy a file's book, prove the copy, and find its last seal in the book."""
    with book.read():
        pass  # what cannot be opened is told with the book's own name
    copy_book(book.path, draft)
    extent = proved(draft, f"the book {book.path}")
    with book.read() as work:
        last = next(work.records.bodies([extent.revisions + extent.removed]), None)
    if (last.seal if last else "") != extent.last_seal:
        raise BookDamagedError(
            f"the last seal of the copy is not in the book {book.path}", "Nothing was kept; verify the book"
        )
    return extent


def proved(path: Path, name: str) -> Extent:
    """Prove a book from one end to the other and return how much it holds.

    Args:
        path: of the file.
        name: of it, for messages.

    Raises:
        BookDamagedError: it does not verify.
    """
    from records.storage.integrity import verify  # noqa: PLC0415 - which imports much that few commands need
    from records.storage.unit_of_work import SqlBook  # noqa: PLC0415 - which imports this module's callers

    book = SqlBook(path)
    report = verify(book)
    if report.problems:
        raise BookDamagedError(
            f"{name} does not verify: {report.problems[0]}", "No copy of it was kept; look at: swathbook verify"
        )
    with book.read() as work:
        return work.moving.extent()


def _exported(book: SqlBook, draft: Path, now: datetime) -> Extent:
    """Export a server's book and read the file back."""
    done = _export(book, draft, now)
    try:
        with draft.open("rb") as stream:
            read = check_export(stream, "the backup")
    except InputError as error:
        raise BookDamagedError(
            f"what was written of the book {book} does not hold: {error.what}", "Nothing was kept; verify the book"
        ) from error
    if read != done.extent:
        raise BookDamagedError(f"what was written is not the book {book}", "Nothing was kept; try again")
    return read
