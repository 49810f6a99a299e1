"""Turns what the driver says into errors a user can act on."""

from __future__ import annotations

import re
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

# https://www.postgresql.org/docs/current/errcodes-appendix.html; by code, then by class
_SERVER_BUSY = {"55P03", "40001", "40P01"}  # lock not available, serialization failure, deadlock
_SERVER_GONE = {"08", "57"}  # connection exception, operator intervention
_ON_SERVER = {
    "42501": ("its role may not do this", "Let the owner of the book do it, or grant the role: swathbook grant ROLE"),
    "53100": ("the server's disk is full", "Free some space on the server and try again; nothing was half written"),
    "53300": ("the server takes no more connections", "Try again, or ask whoever runs the server"),
    "28P01": ("the server refused the password", "Check the URL of the book, or the password file"),
    "28000": ("the server refused the role", "Check the URL of the book, and who may connect"),
    "3D000": ("the server has no such database", "Make it there (createdb), then: swathbook --book URL init"),
    "25006": ("it cannot be written to here", "Name the server that takes writes"),
}
# While connecting there is no code, only the server's words, if they are English
_REFUSALS = (
    (re.compile(r'database "[^"]*" does not exist'), "3D000"),
    (re.compile(r"password authentication failed|no password supplied"), "28P01"),
    (re.compile(r'role "[^"]*" does not exist|no pg_hba.conf entry'), "28000"),
    (re.compile(r"too many clients|connection slots"), "53300"),
)


def is_of_server(error: BaseException) -> bool:
    """Return whether PostgreSQL's driver raised an error; the driver is not loaded to tell."""
    return any(kind.__module__ == "psycopg" and kind.__name__ == "Error" for kind in type(error).__mro__)


def _explain_server(error: BaseException, where: str) -> RecordsError:
    said = " ".join(str(error).split())
    state = getattr(error, "sqlstate", None) or next((code for words, code in _REFUSALS if words.search(said)), "")
    if state in _SERVER_BUSY:
        return BookBusyError(
            f"the book {where} is locked: another program has been writing to it for too long",
            "Nothing was written; try again, or close the other program",
        )
    if state in _ON_SERVER:
        why, hint = _ON_SERVER[state]
        return StorageError(f"the book {where} cannot be used: {why}", hint)
    if state[:2] in _SERVER_GONE or (not state and type(error).__name__ == "OperationalError"):
        return StorageError(
            f"the server of the book {where} does not answer: {said:.200}",
            "Check that it runs, then try again; what was told as sealed is kept, and a ref seals nothing twice",
        )
    if state[:2] == "22" or (not state and type(error).__name__ == "DataError"):
        return InputError(f"a value cannot be kept in the book: {said:.200}", "Write it as plain text")
    return _other(f"{said:.200}", where, refused=state[:2] == "23")


def explain(error: BaseException, where: str) -> RecordsError:
    """Return the error to show for one that the driver raised.

    Args:
        error: what was raised, by the driver or wrapped by SQLAlchemy.
        where: place of the book.
    """
    if isinstance(error, UnicodeError | OverflowError):
        return InputError(f"a value cannot be kept in the book: {error}", "Write it as plain text or a smaller number")
    return _explain_server(error, where) if is_of_server(error) else _explain_file(error, where)


def _explain_file(error: BaseException, where: str) -> RecordsError:
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
    return _other(str(error), where, refused=isinstance(error, sqlite3.IntegrityError))


def _other(said: str, where: str, *, refused: bool) -> StorageError:
    why = f"it refused the change: {said}" if refused else said
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
    except Exception as error:
        if is_of_server(error):
            raise explain(error, where) from error
        if not isinstance(error, OSError):
            raise
        raise StorageError(
            f"the book {where} cannot be used: {error.strerror}", "Check the file and its folder"
        ) from error
