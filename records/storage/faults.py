"""Turns what the driver says into errors a user can act on."""

from __future__ import annotations

import sqlite3
from contextlib import contextmanager
from typing import TYPE_CHECKING

from records.errors import BookBusyError, BookDamagedError, InputError, RecordsError, StorageError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from sqlalchemy.exc import DBAPIError

# Primary result codes, https://www.sqlite.org/rescode.html
_BUSY = {5, 6}  # SQLITE_BUSY, SQLITE_LOCKED
_DAMAGED = {11, 26}  # SQLITE_CORRUPT, SQLITE_NOTADB
_WHAT = {
    3: ("its permissions do not allow it", "Ask the owner of the file, or copy the book"),  # SQLITE_PERM
    8: ("it is read-only", "Make the file and its folder writable"),  # SQLITE_READONLY
    10: ("the disk reported an error", "Check the disk, and keep a copy of the book"),  # SQLITE_IOERR
    13: ("the disk is full", "Free some space and try again; nothing was half written"),  # SQLITE_FULL
    14: ("it cannot be opened", "Check that the file and its folder can be read and written"),  # SQLITE_CANTOPEN
}


def explain(error: BaseException, where: str) -> RecordsError:
    """Return the error to show for one that the driver raised.

    Args:
        error: what was raised, by the driver or wrapped by SQLAlchemy.
        where: place of the book.
    """
    if isinstance(error, UnicodeError | OverflowError):
        return InputError(f"a value cannot be kept in the book: {error}", "Write it as plain text or a smaller number")
    code = getattr(error, "sqlite_errorcode", 0) & 0xFF
    if "integer overflow" in str(error):
        return StorageError(
            f"a total of the book {where} is larger than can be added up exactly",
            "Look for an amount or an area that is far too large, and amend that record",
        )
    if code in _BUSY:
        return BookBusyError(
            f"the book {where} is locked: another program has been writing to it for too long",
            "Nothing was written; try again, or close the other program",
        )
    if code in _DAMAGED:
        return BookDamagedError(f"{where} is not a book, or it is damaged: {error}", "Restore it from a backup")
    if code in _WHAT:
        why, hint = _WHAT[code]
        return StorageError(f"the book {where} cannot be used: {why}", hint)
    refused = isinstance(error, sqlite3.IntegrityError)
    why = f"it refused the change: {error}" if refused else str(error)
    return StorageError(f"the book {where} cannot be used: {why}", "Nothing was written; check it: swathbook verify")


def original(error: DBAPIError) -> BaseException:
    """Return the driver's own error inside one of SQLAlchemy's."""
    return error.orig if error.orig is not None else error


@contextmanager
def translated(where: str) -> Iterator[None]:
    """Run a block and raise this package's errors in place of the driver's."""
    from sqlalchemy.exc import DBAPIError, SQLAlchemyError  # noqa: PLC0415 - one import for all callers

    try:
        yield
    except DBAPIError as error:
        raise explain(original(error), where) from error
    except (sqlite3.Error, SQLAlchemyError) as error:
        raise explain(error, where) from error
    except OSError as error:
        raise StorageError(
            f"the book {where} cannot be used: {error.strerror}", "Check the file and its folder"
        ) from error
