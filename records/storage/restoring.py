"""Puts a backup in the place of a book: proved first, never over what it lacks unasked, the book that was kept beside.

While the present book is looked at, kept and replaced, its writers are locked out. Those that waited for the lock hold
the old file, which has no name any more; it is marked as replaced, so that nothing is ever told as sealed in there.
"""

from __future__ import annotations

import os
import shutil
import sqlite3
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from records.errors import BookBusyError, BookDamagedError, InputError, OverwriteError, RecordsError, UsageError
from records.services.moving.importing import import_book
from records.services.moving.reading import MAX_LINE, is_export
from records.storage.backup import copy_book, free_name, proved
from records.storage.engine import book_path, connect, is_server
from records.storage.faults import explain, translated
from records.storage.guard import check_mark
from records.storage.migrate import check_upgradable, upgrade
from records.storage.placing import draft_for, flush_file, new_file, place
from records.storage.schema import REPLACED

if TYPE_CHECKING:
    from collections.abc import Iterator

    from records.services.moving.ports import Extent

_MAGIC = b"SQLite format 3\0"
_SIDE_FILES = ("-journal", "-wal", "-shm")
# Each grows only, and each row has a seal over the one before it: two books that share one share all before it
_CHAINS = {
    "sealed revision": (
        "SELECT max(coalesce((SELECT max(id) FROM revision), 0), coalesce((SELECT max(id) FROM removed_revision), 0))",
        "SELECT seal FROM revision WHERE id = ?1 UNION ALL SELECT seal FROM removed_revision WHERE id = ?1",
    ),
    "loaded version": (
        "SELECT coalesce(max(number), 0) FROM catalogue",
        "SELECT seal FROM catalogue WHERE number = ?1",
    ),
    "event of a held visit": (
        "SELECT coalesce(max(id), 0) FROM held_event",
        "SELECT seal FROM held_event WHERE id = ?1",
    ),
}


@dataclass(frozen=True, slots=True)
class Beyond:
    """What the present book holds that the backup lacks."""

    lost: dict[str, int]  # by what it is
    last_seal: str  # of the present book
    parted: bool  # the backup holds revisions that the present book lacks, too: one is not the continuation of the other

    def __str__(self) -> str:
        """Say how much it is."""
        return ", ".join(f"{count:,} {what}{'' if count == 1 else 's'}" for what, count in self.lost.items())


@dataclass(frozen=True, slots=True)
class Restored:
    """What a restore did."""

    path: Path
    extent: Extent
    kept: Path | None  # the book as it was
    damaged: str  # why the book as it was could not be read; "" where it could
    beyond: Beyond | None  # what was given up


def restore(source: Path, location: str | Path, *, replace_newer: bool = False) -> Restored:
    """Put a backup in the place of a book.

    Args:
        source: a copy of a book or a book's export, told by what is in it.
        location: path of the book.
        replace_newer: give up what the present book holds and the backup lacks.

    Raises:
        UsageError: the book is on a server, or is the backup itself.
        InputError: the source is no backup.
        BookDamagedError: the backup does not verify, or another program's database stands in the book's place.
        OverwriteError: the present book holds what the backup lacks.
        BookBusyError: another process keeps writing to the book.
    """
    if is_server(location):
        raise UsageError(
            "a backup is put back in the place of a file",
            "For a server, make an empty database and import an export: swathbook --book URL import FILE",
        )
    path = Path(os.path.realpath(book_path(location)))
    if source.exists() and path.exists() and source.samefile(path):
        raise UsageError(f"{source} is the book itself", "Name the backup")
    with draft_for(path) as draft, _named(draft, source):
        extent = _prepare(source, draft)
        if not os.path.lexists(path):
            place(draft, path, replace=False)
            return Restored(path, extent, None, "", None)
        return _replace(draft, path, extent, replace_newer=replace_newer)


@contextmanager
def _named(draft: Path, source: Path) -> Iterator[None]:
    """Name the backup where an error names the file that was made of it."""
    try:
        yield
    except RecordsError as error:
        error.what = error.what.replace(str(draft), f"backup {source}")
        raise


def _prepare(source: Path, draft: Path) -> Extent:
    """Make a book of a backup, and prove it."""
    try:
        with source.open("rb") as stream:
            first = stream.readline(MAX_LINE + 1)
            if first.startswith(_MAGIC):
                _copy(source, draft)
            elif is_export(first):
                from records.storage.unit_of_work import SqlBook  # noqa: PLC0415 - not needed for a copy

                upgrade(draft)
                import_book(SqlBook(draft), stream, str(source), first)
            else:
                raise InputError(f"{source} is neither a copy of a book nor an export of one", "Name a backup")
    except OSError as error:
        raise InputError(f"{source} cannot be read: {error.strerror}", "Check the name of the file") from error
    return proved(draft, f"the backup {source}")


def _copy(source: Path, draft: Path) -> None:
    """Copy a backup that is a book, and bring the copy to this version of the schema."""
    check_upgradable(source)
    copy_book(source, draft)
    made = upgrade(draft)
    if isinstance(made.backup, Path):
        made.backup.unlink()


def _replace(draft: Path, path: Path, extent: Extent, *, replace_newer: bool) -> Restored:
    if not path.is_file():
        raise OverwriteError(f"{path} is there and is no file", "Name another place with --book")
    damaged, beyond = "", None
    present = connect(path)
    try:
        try:
            _lock(present, path)
            with closing(connect(draft)) as backup:
                beyond = _compare(present, backup)
        except sqlite3.Error as error:
            told = explain(error, str(path))
            if isinstance(told, BookBusyError):
                raise told from error
            damaged = str(error)
        if beyond is not None and not replace_newer:
            raise _would_lose(beyond, path, extent)
        kept = free_name(path.with_name(f"{path.name}.before-restore"))
        with translated(str(kept)):
            if damaged:
                _keep_bytes(path, kept)
            else:
                _keep(present, kept)
            _move_side_files(path, kept)
        place(draft, path, replace=True)
        with suppress(sqlite3.Error):
            present.execute(f"PRAGMA application_id = {REPLACED}")
            present.execute("COMMIT")
    finally:
        present.close()
    return Restored(path, extent, kept, damaged, beyond)


def _lock(present: sqlite3.Connection, path: Path) -> None:
    """Keep everyone else from the present book.

    Raises:
        BookDamagedError: it is another program's database.
        BookBusyError: someone has it open in another way.
        sqlite3.Error: it cannot be read, or is locked too long.
    """
    check_mark(present, str(path))  # reads, and so rolls back what a crash left half done
    # In memory: a journal's file is found by name, and soon that name belongs to the restored book
    (mode,) = present.execute("PRAGMA journal_mode = MEMORY").fetchone()
    if mode != "memory":
        raise BookBusyError(f"the book {path} is open in another program", "Nothing was changed; close it, try again")
    present.execute("BEGIN EXCLUSIVE")


def _compare(present: sqlite3.Connection, backup: sqlite3.Connection) -> Beyond | None:
    """Return what the present book holds beyond the backup; None when the backup holds all of it."""
    lost: dict[str, int] = {}
    parted, last_seal = False, ""
    for what, (length, seal) in _CHAINS.items():
        try:
            (count,), (other,) = present.execute(length).fetchone(), backup.execute(length).fetchone()
            common = _common(present, backup, seal, min(count, other))
        except sqlite3.OperationalError:
            if what == "sealed revision" or _is_present(present):
                raise
            continue  # made by an older version, whose loaded documents had no seals
        if count > common:
            lost[what] = count - common
            parted |= common < other
        if not last_seal and count:
            last_seal = str(present.execute(seal, (count,)).fetchone()[0])
    return Beyond(lost, last_seal, parted) if lost else None
