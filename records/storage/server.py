"""A book on a PostgreSQL server: opens connections, and runs the same statements there.

One writer at a time, as with a file: a writing transaction first takes a lock of its own kind (an advisory lock, which
needs no right on any table), so that serials and the chain stay without gaps and forks however many write. A reading
one sees the book as it was at its beginning.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import count
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit, urlunsplit

from sqlalchemy import NullPool, create_engine, event
from sqlalchemy.exc import DBAPIError, SQLAlchemyError

from records.errors import StorageError, UsageError
from records.storage.faults import explain, original
from records.storage.link import Link, Prepared, inserting

if TYPE_CHECKING:
    from collections.abc import Generator, Sequence
    from pathlib import Path
    from types import ModuleType

    import psycopg
    from sqlalchemy import Connection, Engine, Executable

    from records.storage.base import Base

LOCK = 0x5357_4248  # "SWBH": the lock that a writer of the book holds
LOCK_MILLISECONDS = 10_000
CONNECT_SECONDS = 10
_numbers = count()  # of cursors; each has a name of its own
_PAGE = 1000  # rows fetched at a time where they are read one by one


@dataclass(frozen=True, slots=True)
class Server:
    """Where a book on a server is."""

    url: str  # for the driver: libpq's own form

    def __str__(self) -> str:
        """Return it for messages, without the password."""
        parts = urlsplit(self.url)
        where, at, place = parts.netloc.rpartition("@")
        user = where.partition(":")[0]
        query = "&".join(one for one in parts.query.split("&") if not one.startswith(("password=", "sslpassword=")))
        return urlunsplit((parts.scheme, f"{user}{at}{place}", parts.path, query, ""))


def server_of(location: str | Path) -> Server:
    """Return the server that a URL names.

    Raises:
        UsageError: the URL cannot be read.
    """
    scheme, _, rest = str(location).partition("://")
    try:
        urlsplit(f"{scheme}://{rest}")
    except ValueError as error:
        raise UsageError(f"the URL of the book cannot be read: {error}", "Write postgresql://USER@HOST/NAME") from error
    return Server(f"postgresql://{rest}")


def connect(server: Server) -> psycopg.Connection[Any]:
    """Open a connection with the driver alone.

    Raises:
        StorageError: the driver is not installed.
        UsageError: the URL names no server.
        psycopg.Error: the server does not answer, or refuses.
    """
    driver = _driver()
    try:
        connection: psycopg.Connection[Any] = driver.connect(
            server.url, connect_timeout=CONNECT_SECONDS, application_name="swathbook"
        )
    except UnicodeError as error:  # a name that cannot be that of a host
        raise UsageError("the URL of the book does not name a server", "Write postgresql://USER@HOST/NAME") from error
    # The only numerics there are: sums of whole numbers
    connection.adapters.register_loader("numeric", driver.types.numeric.IntLoader)
    return connection


def _driver() -> ModuleType:
    try:
        import psycopg.types.numeric  # noqa: PLC0415 - an optional package
    except ImportError as error:
        raise StorageError(
            "a book on a server needs the package psycopg", "Install it: pip install 'swathbook[postgresql]'"
        ) from error
    return psycopg


def make_engine(server: Server, *, read_only: bool = False) -> Engine:
    """Return an engine on a book.

    Args:
        server: where the book is.
        read_only: refuse every write on its connections, and begin without the writer's lock.
    """
    _driver()
    engine = create_engine("postgresql+psycopg://", creator=lambda: connect(server), poolclass=NullPool)

    @event.listens_for(engine, "begin")
    def start(connection: Connection) -> None:
        if read_only:
            connection.exec_driver_sql("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
            return
        connection.exec_driver_sql(f"SET LOCAL lock_timeout = {LOCK_MILLISECONDS}")
        # What is told as sealed has to be on the disk, whatever the server's own habit
        connection.exec_driver_sql(
            "SELECT set_config('synchronous_commit', 'on', true) WHERE current_setting('synchronous_commit') = 'off'"
        )
        connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({LOCK})")

    return engine


class ServerLink(Link):
    """A connection to a server inside a transaction, with the driver's errors translated."""

    is_server = True

    def rows(self, statement: Prepared, *values: object) -> list[Any]:
        """Run a prepared statement and return all its rows as plain tuples; none of one that returns nothing."""
        with self._cursor(statement.server_text, values) as cursor:
            return [] if cursor.description is None else cursor.fetchall()

    def row(self, statement: Prepared, *values: object) -> Any:  # noqa: ANN401 - a row as the driver gives it
        """Run a prepared statement and return its first row, or None."""
        with self._cursor(statement.server_text, values) as cursor:
            return cursor.fetchone()

    def iterate(self, statement: Prepared, *values: object) -> Generator[Any]:
        """Run a prepared statement and yield its rows as plain tuples, without holding them all in memory."""
        import psycopg  # noqa: PLC0415 - an optional package

        try:
            with self.raw.cursor(name=f"rows_{next(_numbers)}") as cursor:
                cursor.itersize = _PAGE
                cursor.execute(statement.server_text, values)
                yield from cursor
        except (psycopg.Error, UnicodeError) as error:
            raise explain(error, self.where) from error

    def change(self, text: str) -> None:
        """Run a statement that returns nothing: of the schema, or of the transaction."""
        self._cursor(text, None).close()

    def ask(self, text: str, *values: object) -> list[Any]:
        """Run a statement of PostgreSQL's own and return its rows."""
        with self._cursor(text, values or None) as cursor:
            found: list[Any] = cursor.fetchall()
            return found

    def pragma(self, name: str) -> list[Any]:
        """Refuse: a server has no pragmas."""
        raise StorageError(f"a book on a server has no {name}", "Report this as a fault of the tool")

    def add(self, row: type[Base], rows: Sequence[tuple[Any, ...]]) -> None:
        """Insert whole rows, values in column order."""
        import psycopg  # noqa: PLC0415 - an optional package

        text = inserting(row).server_text
        try:
            if len(rows) == 1:
                self.raw.execute(text, rows[0])
            elif rows:
                with self.raw.cursor() as cursor:
                    cursor.executemany(text, rows)
        except (psycopg.Error, UnicodeError) as error:
            raise explain(error, self.where) from error

    def select(self, statement: Executable) -> Sequence[Any]:
        """Run a statement built for one occasion and return all its rows."""
        try:
            return self.connection.execute(statement).all()
        except DBAPIError as error:
            raise explain(original(error), self.where) from error
        except (SQLAlchemyError, UnicodeError) as error:
            raise explain(error, self.where) from error

    def _cursor(self, text: str, values: Sequence[object] | None) -> Any:  # noqa: ANN401 - the driver's cursor
        import psycopg  # noqa: PLC0415 - an optional package

        try:
            return self.raw.execute(text, values)
        except (psycopg.Error, UnicodeError) as error:
            raise explain(error, self.where) from error
