"""One open transaction's connection: the only way to the database for the repositories.

Statements are written with SQLAlchemy and compiled once per process; the hot ones then go to the driver as text.
Compiling, caching and result processing for each call would cost more than SQLite itself does. `Link` is a file's,
`ServerLink` (`server.py`) that of a PostgreSQL server: the same statements, compiled for the other one.
"""

from __future__ import annotations

import sqlite3
from functools import cache, cached_property
from typing import TYPE_CHECKING, Any

from sqlalchemy import insert, literal_column
from sqlalchemy.dialects import sqlite
from sqlalchemy.engine.interfaces import BindTyping
from sqlalchemy.exc import DBAPIError, SQLAlchemyError

from records.storage.faults import explain, original

if TYPE_CHECKING:
    from collections.abc import Callable, Generator, Sequence

    from sqlalchemy import ColumnElement, Connection, Dialect, Executable, Table
    from sqlalchemy.sql.elements import ClauseElement

    from records.storage.base import Base

# Written out, not bound: so that indexes over a part of a table can serve
ZERO: ColumnElement[int]
ONE: ColumnElement[int]
EVENT: ColumnElement[str]
ZERO, ONE, EVENT = literal_column("0"), literal_column("1"), literal_column("'event'")
# What the driver raises for the database's answer, and for values that it cannot pass on
FAULTS = (sqlite3.Error, UnicodeError, OverflowError)
_FILE = sqlite.dialect(paramstyle="qmark")


@cache
def _server() -> Dialect:
    from sqlalchemy.dialects import postgresql  # noqa: PLC0415 - not loaded for a file

    dialect: Dialect = postgresql.dialect(paramstyle="format")  # type: ignore[no-untyped-call]
    # The driver names the types of numbers, and PostgreSQL finds out those of texts
    dialect.bind_typing = BindTyping.NONE
    return dialect


class Prepared:
    """A statement that is built and compiled when it is first run; its parameters are given in the order named."""

    def __init__(self, build: Callable[[], ClauseElement], *names: str) -> None:
        """Keep how the statement is built: a command runs few of them, and each costs half a millisecond to compile.

        Args:
            build: returns the statement, with `bindparam`s.
            names: of the parameters in the order in which callers give them; each used once, in this order.
        """
        self._build = build
        self._names = list(names)

    @cached_property
    def text(self) -> str:
        """The statement as SQLite's driver takes it."""
        return self._compiled(_FILE)

    @cached_property
    def server_text(self) -> str:
        """The statement as PostgreSQL's driver takes it."""
        return self._compiled(_server())

    def _compiled(self, dialect: Dialect) -> str:
        compiled = self._build().compile(dialect=dialect)
        wanted = list(getattr(compiled, "positiontup", None) or [])
        if wanted != self._names:
            msg = f"parameters are {wanted}, not {self._names}"
            raise ValueError(msg)
        return str(compiled)


@cache
def inserting(row: type[Base]) -> Prepared:
    """Return the INSERT of whole rows, values in column order."""
    table: Table = row.__table__  # type: ignore[assignment]
    return Prepared(lambda: insert(table), *(column.name for column in table.columns))


class Link:
    """A connection to a book's file inside a transaction, with the driver's errors translated."""

    is_server = False

    def __init__(self, connection: Connection, where: str) -> None:
        """Keep the connection.

        Args:
            connection: already in a transaction.
            where: place of the book, for messages.
        """
        self.connection = connection
        self.where = where
        self.raw: Any = connection.connection.driver_connection

    def rows(self, statement: Prepared, *values: object) -> list[Any]:
        """Run a prepared statement and return all its rows as plain tuples."""
        try:
            found: list[Any] = self.raw.execute(statement.text, values).fetchall()
        except FAULTS as error:
            raise explain(error, self.where) from error
        return found

    def row(self, statement: Prepared, *values: object) -> Any:  # noqa: ANN401 - a row as the driver gives it
        """Run a prepared statement and return its first row, or None."""
        try:
            return self.raw.execute(statement.text, values).fetchone()
        except FAULTS as error:
            raise explain(error, self.where) from error

    def iterate(self, statement: Prepared, *values: object) -> Generator[Any]:
        """Run a prepared statement and yield its rows as plain tuples, without holding them all in memory."""
        try:
            yield from self.raw.execute(statement.text, values)
        except FAULTS as error:
            raise explain(error, self.where) from error

    def change(self, text: str) -> None:
        """Run a statement that returns nothing: of the schema, or of the transaction."""
        try:
            self.raw.execute(text)
        except FAULTS as error:
            raise explain(error, self.where) from error

    def pragma(self, name: str) -> list[Any]:
        """Run one of SQLite's own checks and return its rows."""
        try:
            found: list[Any] = self.raw.execute(f"PRAGMA {name}").fetchall()
        except FAULTS as error:
            raise explain(error, self.where) from error
        return found

    def add(self, row: type[Base], rows: Sequence[tuple[Any, ...]]) -> None:
        """Insert whole rows, values in column order."""
        try:
            if len(rows) == 1:
                self.raw.execute(inserting(row).text, rows[0])
            elif rows:
                self.raw.executemany(inserting(row).text, rows)
        except FAULTS as error:
            raise explain(error, self.where) from error

    def select(self, statement: Executable) -> Sequence[Any]:
        """Run a statement built for one occasion and return all its rows."""
        try:
            return self.connection.execute(statement).all()
        except DBAPIError as error:
            raise explain(original(error), self.where) from error
        except (SQLAlchemyError, *FAULTS) as error:
            raise explain(error, self.where) from error
