"""Puts a backup in the place of a book: proved first, never over what it lacks unasked, the book that was kept beside.

While the present book is looked at, kept and replaced, its writers are locked out. Those that waited for the lock hold
the old file, which has no name any more; it is marked as replaced, so that nothing is ever told as sealed in there.
(Where a reader keeps the mark from being made, they have given up waiting by the time that we do.)
"""

from __future__ import annotations

import os
import shutil
import sqlite3
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from records.errors import BookBusyError, InputError, OverwriteError, RecordsError, UsageError
from records.services.moving.importing import import_book
from records.services.moving.reading import MAX_LINE, is_export
from records.storage.backup import copy_book, free_name, proved
from records.storage.engine import book_path, connect, is_server
from records.storage.faults import explain, translated
from records.storage.guard import check_mark, newer, read_version
from records.storage.migrate import check_upgradable, upgrade
from records.storage.placing import draft_for, flush_file, new_file, place, refuse_existing
from records.storage.schema import HEAD, REPLACED, VERSIONS

if TYPE_CHECKING:
    from collections.abc import Iterator
    from typing import IO

    from records.services.moving.ports import Extent

_MAGIC = b"SQLite format 3\0"
_LEAST = 512  # bytes of the smallest database; SQLite takes what is smaller for an empty one
_SIDE_FILES = ("-journal", "-wal", "-shm")
# Each grows only, and each row has a seal over the one before it: two books that share one share all before it
REVISIONS = "sealed revision"
_CHAINS = {
    REVISIONS: (
        "SELECT max(coalesce((SELECT max(id) FROM revision), 0), coalesce((SELECT max(id) FROM removed_revision), 0))",
        "SELECT seal FROM revision WHERE id = ?1 UNION ALL SELECT seal FROM removed_revision WHERE id = ?1",
    ),
    "loaded version": (
        "SELECT coalesce(max(number), 0) FROM catalogue",
        "SELECT seal FROM catalogue WHERE number = ?1",
    ),
    "held event": (
        "SELECT coalesce(max(id), 0) FROM held_event",
        "SELECT seal FROM held_event WHERE id = ?1",
    ),
}


@dataclass(frozen=True, slots=True)
class Beyond:
    """What the present book holds that the backup lacks."""

    lost: dict[str, int]  # by what it is
    last_seal: str  # of the present book
    parted: (
        bool  # the backup holds revisions that the present book lacks, too: one is not the continuation of the other
    )

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


def import_new(location: str | Path, stream: IO[bytes], name: str, first: bytes) -> Extent:
    """Make a book of an export where there is none; a file stands in its place only when it is complete.

    Args:
        location: path of the book, or URL of an empty database.
        stream: the export.
        name: of the export, for messages.
        first: its first line, which was read already.

    Raises:
        InputError: a line is not as it should be.
        OutputError: the book cannot be made there.
        OverwriteError: something took its place meanwhile.
    """
    from records.storage.unit_of_work import SqlBook  # noqa: PLC0415 - which few restores need

    if is_server(location):
        upgrade(location)
        return import_book(SqlBook(location), stream, name, first)
    path = book_path(location)
    is_blank = path.is_file() and path.stat().st_size == 0  # what a stopped init leaves
    refuse_existing(path, replace=is_blank)
    with draft_for(path) as draft:
        upgrade(draft)
        extent = import_book(SqlBook(draft), stream, name, first)
        place(draft, path, replace=is_blank)
    return extent


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
    if made.backup is not None:
        Path(made.backup).unlink()


def _replace(draft: Path, path: Path, extent: Extent, *, replace_newer: bool) -> Restored:
    if not path.is_file():
        raise OverwriteError(f"{path} is there and is no file", "Name another place with --book")
    present = connect(path)
    try:
        damaged, beyond = _examine(present, path, draft)
        if beyond is not None and not replace_newer:
            raise _would_lose(beyond, path, extent)
        kept = free_name(path.with_name(f"{path.name}.before-restore"))
        with translated(str(kept)):
            if damaged:
                _keep_bytes(path, kept)
            else:
                with draft_for(kept) as copy:  # half a copy must not have the name of a whole one
                    _keep(path, copy)
                    place(copy, kept, replace=False)
        _exchange(draft, path, kept)
        if not damaged:
            with suppress(sqlite3.Error):
                present.execute(f"PRAGMA application_id = {REPLACED}")
                present.execute("COMMIT")
    finally:
        present.close()
    return Restored(path, extent, kept, damaged, beyond)


def _examine(present: sqlite3.Connection, path: Path, draft: Path) -> tuple[str, Beyond | None]:
    """Lock the present book; return why it cannot be read, or what it holds beyond the backup."""
    if path.stat().st_size < _LEAST:
        return "it is empty, or next to", None
    try:
        _lock(present, path)
        with _newest(present, path, draft) as now, closing(connect(draft)) as backup:
            return "", _compare(now, backup)
    except sqlite3.Error as error:
        told = explain(error, str(path))
        if isinstance(told, BookBusyError):
            raise told from error
        return str(error), None


def _exchange(draft: Path, path: Path, kept: Path) -> None:
    """Give the restored book its name; whatever SQLite left beside the old one belongs to what is kept of it."""
    moved: list[tuple[Path, Path]] = []
    try:
        for suffix in _SIDE_FILES:
            beside = path.with_name(path.name + suffix)
            if beside.exists():
                moved.append((beside, beside.replace(kept.with_name(kept.name + suffix))))
        place(draft, path, replace=True)
    except BaseException:
        for before, after in moved:
            after.replace(before)
        kept.unlink(missing_ok=True)
        raise


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
    present.execute("BEGIN IMMEDIATE")


@contextmanager
def _newest(present: sqlite3.Connection, path: Path, draft: Path) -> Iterator[sqlite3.Connection]:
    """Give the present book in this version's schema: itself, or an upgraded copy to look at.

    Raises:
        BookVersionError: it was made by a newer version of the tool.
    """
    version = read_version(present)
    if version == HEAD:
        yield present
        return
    if version not in VERSIONS:
        raise newer(str(version), str(path)) if version else sqlite3.DatabaseError("it does not say its version")
    with draft_for(draft) as copy:
        _keep(path, copy)
        made = upgrade(copy)
        if made.backup is not None:
            Path(made.backup).unlink()
        with closing(connect(copy)) as connection:
            yield connection


def _compare(present: sqlite3.Connection, backup: sqlite3.Connection) -> Beyond | None:
    """Return what the present book holds beyond the backup; None when the backup holds all of it."""
    lost: dict[str, int] = {}
    parted, last_seal = False, ""
    for what, (length, seal) in _CHAINS.items():
        (count,), (other,) = present.execute(length).fetchone(), backup.execute(length).fetchone()
        common = _common(present, backup, seal, min(count, other))
        if count > common:
            lost[what] = count - common
            parted |= common < other
        if what == REVISIONS and count:
            last_seal = _seal_at(present, seal, count)
    return Beyond(lost, last_seal, parted) if lost else None


def _common(present: sqlite3.Connection, backup: sqlite3.Connection, seal: str, most: int) -> int:
    """Return how many links two chains share; alike at one place, they are alike at all places before it."""
    least = 0
    while least < most:
        middle = (least + most + 1) // 2
        if _seal_at(present, seal, middle) == _seal_at(backup, seal, middle):
            least = middle
        else:
            most = middle - 1
    return least


def _seal_at(connection: sqlite3.Connection, statement: str, number: int) -> str:
    row = connection.execute(statement, (number,)).fetchone()
    return "" if row is None else str(row[0])


def _would_lose(beyond: Beyond, path: Path, extent: Extent) -> OverwriteError:
    parts = "is another book, or its chain was changed: it holds" if beyond.parted else "holds"
    return OverwriteError(
        f"the book {path} {parts} {beyond} that the backup lacks (last seal of the book {beyond.last_seal or 'none'}, "
        f"of the backup {extent.last_seal or 'none'})",
        "Nothing was changed; to go back all the same, add --replace-newer (the book is kept beside)",
    )


def _keep(path: Path, kept: Path) -> None:
    """Copy the present book, which is locked for others, into a new file."""
    os.close(new_file(kept))
    try:
        # Over another connection: SQLite copies nothing from one that is about to write
        with closing(connect(path)) as reading, closing(sqlite3.connect(kept)) as writing:
            reading.backup(writing)
        flush_file(kept)
    except BaseException:
        kept.unlink()
        raise


def _keep_bytes(path: Path, kept: Path) -> None:
    """Keep a file that cannot be read as a book, as it is."""
    try:
        os.link(path, kept)
    except OSError:  # a file system without links
        os.close(new_file(kept))
        shutil.copyfile(path, kept)
    kept.chmod(0o600)
