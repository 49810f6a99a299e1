"""Puts a book's export into an empty book: all of it, proved while reading, or nothing."""

from __future__ import annotations

from typing import TYPE_CHECKING

from records.errors import InputError, OverwriteError
from records.services.moving.ports import CatalogueVersion, HeldEvent
from records.services.moving.reading import BookReader
from records.services.ports import RemovedRow

if TYPE_CHECKING:
    from typing import IO

    from records.services.moving.ports import Extent, MovingBook, MovingUnit
    from records.services.moving.reading import Part


def import_book(book: MovingBook, stream: IO[bytes], name: str, first: bytes | None = None) -> Extent:
    """Put an export into an empty book, in one transaction.

    Args:
        book: the empty one.
        stream: the export.
        name: of the file, for messages.
        first: its first line, where that was read already.

    Returns:
        What came in.

    Raises:
        OverwriteError: the book is not empty.
        InputError: a line is not as it should be; nothing is kept.
    """
    with book.write() as work:
        if not work.moving.extent().is_empty:
            raise OverwriteError(
                "a whole book can only come into an empty one, and this one holds something",
                "Name a new book with --book",
            )
        told = BookReader(stream, name, first).read(_Keeper(work).keep)
        _compare(work, told, name)
        work.commit()
    return told


def check_export(stream: IO[bytes], name: str, first: bytes | None = None) -> Extent:
    """Prove an export without a book; return what it holds.

    Args:
        stream: the export.
        name: of the file, for messages.
        first: its first line, where that was read already.

    Raises:
        InputError: a line is not as it should be.
    """
    return BookReader(stream, name, first).read()


class _Keeper:
    """Puts each part where it belongs."""

    def __init__(self, work: MovingUnit) -> None:
        self._moving = work.moving
        self._records = work.records

    def keep(self, part: Part) -> None:
        """Store one part of a book."""
        if isinstance(part, CatalogueVersion):
            self._moving.put_catalogue(part)
        elif isinstance(part, HeldEvent):
            self._moving.put_held(part)
        elif isinstance(part, RemovedRow):
            self._moving.put_stub(part)
        else:
            self._records.append(part)


def _compare(work: MovingUnit, told: Extent, name: str) -> None:
    """Hold what is in the book now against what the file said, and prove it.

    Raises:
        InputError: they differ.
    """
    found = work.moving.extent()
    for what, value, should in zip(found._fields, found, told, strict=True):
        if value != should:
            raise InputError(
                f"{name} says {what} {should or 'none'}, but its lines give {value or 'none'}",
                "Something in it was changed; get the file again from where it was written",
            )
    if problems := work.moving.problems():
        raise InputError(f"{name} does not make a whole book: {problems[0]}", "Nothing was kept")
