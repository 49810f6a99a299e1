"""Opens the book's file: pragmas on every connection, and transactions that begin when we say so.

A book on a server is opened by `server.py`.
"""

from __future__ import annotations

import os
import sqlite3
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sqlalchemy import NullPool, create_engine, event

from records.errors import BookMissingError, StorageError, UsageError

if TYPE_CHECKING:
    from sqlalchemy import Connection, Engine

BUSY_MILLISECONDS = 10_000
# At most; enough for what one transaction of many visits changes, which is else written out and read again meanwhile
CACHE_KIBIBYTES = 16_000


def is_server(location: str | Path) -> bool:
    """Return whether a location is the URL of a PostgreSQL server."""
    return str(location).startswith(("postgresql://", "postgresql+psycopg://", "postgres://"))


def book_path(location: str | Path) -> Path:
    """Return the file of a book.

    Raises:
        UsageError: the location is a URL.
    """
    text = str(location)
    if is_server(text):
        raise UsageError("this needs a book that is a file", "Write --book FILE")
    if "://" in text:
        raise UsageError("the place of the book is neither a path nor a PostgreSQL URL", "Write --book FILE")
    return Path(text).expanduser()


def create_file(path: Path) -> None:
    """Make an empty file that only its owner can read, whatever the mask; SQLite's side files take that over.

    Raises:
        StorageError: the file cannot be made there.
    """
    if path.exists() and not path.is_file():
        raise StorageError(f"the book {path} cannot be made: that is no file", "Name a file for it")
    try:
        with suppress(FileExistsError):  # an empty file is taken as it is, but for who may read it
            os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))
        path.chmod(0o600)
    except OSError as error:
        raise StorageError(
            f"the book {path} cannot be made: {error.strerror}", "Choose a folder that exists and can be written to"
        ) from error


def connect(path: Path) -> sqlite3.Connection:
    """Open an existing file with the driver alone.

    Raises:
        BookMissingError: there is no file.
    """
    if not path.is_file():
        raise BookMissingError(str(path))
    # mode=rw never makes a file, and falls back to reading where the file may not be written.
    return sqlite3.connect(
        f"{path.absolute().as_uri()}?mode=rw", uri=True, isolation_level=None, timeout=BUSY_MILLISECONDS / 1000
    )


def make_engine(location: str | Path, *, read_only: bool = False, for_migration: bool = False) -> Engine:
    """Return an engine on an existing book file.

    Args:
        location: path of the book.
        read_only: refuse every write on its connections, and begin without the write lock.
        for_migration: leave foreign keys off, as rebuilding a table needs; check them before committing.

    Raises:
        UsageError: the location is a URL.
    """
    path = book_path(location)
    engine = create_engine("sqlite://", creator=lambda: connect(path), poolclass=NullPool)
    pragmas = (
        f"PRAGMA foreign_keys={'OFF' if for_migration else 'ON'}",
        "PRAGMA recursive_triggers=ON",  # else INSERT OR REPLACE walks past the triggers
        "PRAGMA trusted_schema=OFF",
        "PRAGMA synchronous=FULL",
        f"PRAGMA query_only={'ON' if read_only else 'OFF'}",
        f"PRAGMA cache_size=-{CACHE_KIBIBYTES}",
    )
    begin = "BEGIN" if read_only else "BEGIN IMMEDIATE"

    @event.listens_for(engine, "connect")
    def prepare(connection: sqlite3.Connection, _: Any) -> None:  # noqa: ANN401 - SQLAlchemy's own record
        for pragma in pragmas:
            connection.execute(pragma)
        connection.create_function("casefold", 1, _casefold, deterministic=True)

    @event.listens_for(engine, "begin")
    def start(connection: Connection) -> None:
        connection.exec_driver_sql(begin)

    return engine


def _casefold(value: str | float | None) -> str | int | float | None:
    return value.casefold() if isinstance(value, str) else value
