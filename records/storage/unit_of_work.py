"""One command is one transaction: the only place that commits."""

from __future__ import annotations

from typing import TYPE_CHECKING

from records.errors import StorageError, UsageError
from records.storage.catalogue import SqlCatalogue
from records.storage.engine import book_path, is_server, make_engine
from records.storage.faults import translated
from records.storage.guard import check_book, check_identity
from records.storage.held import SqlHeld
from records.storage.link import Link
from records.storage.repository import SqlRecords

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path
    from types import TracebackType
    from typing import Self

    from sqlalchemy import Connection, Engine

    from records.services.account_ports import Account
    from records.services.moving.ports import Moving
    from records.services.ports import Catalogue, Held, Records
    from records.storage.server import Server


class SqlUnitOfWork:
    """One transaction over one book; left without `commit`, it leaves no trace. Good for one `with`."""

    catalogue: Catalogue
    records: Records
    held: Held

    def __init__(
        self, engine: Engine, where: str, *, writing: bool, check: Callable[[Link], None] = check_book
    ) -> None:
        """Prepare a transaction; it begins on entering.

        Args:
            engine: of the book.
            where: place of the book, for messages.
            writing: take the write lock.
            check: refuses what must not be worked on.
        """
        self._check = check
        self._engine = engine
        self._where = where
        self._writing = writing
        self._connection: Connection | None = None
        self.link: Link | None = None

    def __enter__(self) -> Self:
        """Begin; a writing unit of work takes the write lock at once.

        Raises:
            BookBusyError: another process kept the lock too long.
            BookDamagedError: the file is no book, or its protections are gone.
            BookVersionError: the book is of another schema version.
        """
        if self._connection is not None:
            raise StorageError("a unit of work is good for one transaction", "Open another one")
        with translated(self._where):
            connection = self._connection = self._engine.connect()
            try:
                connection.begin()
                kind = _link_kind(self._engine)
                self.link = link = kind(connection, self._where)
                self._check(link)
            except BaseException:
                connection.close()
                raise
        self.catalogue = SqlCatalogue(link)
        self.records = SqlRecords(link, writing=self._writing)
        self.held = SqlHeld(link)
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Roll back what was not committed."""
        if self._connection is not None:
            with translated(self._where):
                self._connection.close()

    @property
    def account(self) -> Account:
        """Return what sealed records say of loads, lots and amounts."""
        from records.storage.account import SqlAccount  # noqa: PLC0415 - few commands need it

        assert self.link is not None  # noqa: S101 - entered before
        return SqlAccount(self.link)

    @property
    def moving(self) -> Moving:
        """Return what moves a whole book, within this transaction."""
        from records.storage.moving import SqlMoving  # noqa: PLC0415 - few commands need it

        assert self.link is not None  # noqa: S101 - entered before
        assert isinstance(self.records, SqlRecords)  # noqa: S101 - made on entering
        return SqlMoving(self.link, self.records)

    def commit(self) -> None:
        """Make everything since the beginning durable, at once; the unit of work is then over.

        Raises:
            BookBusyError: a reader kept the file too long.
            StorageError: the disk is full or failing; nothing was written.
        """
        if self._connection is None:
            raise StorageError("a unit of work has not begun", "Enter it first")
        with translated(self._where):
            self._connection.commit()


def _link_kind(engine: Engine) -> type[Link]:
    if engine.dialect.name == "sqlite":
        return Link
    from records.storage.server import ServerLink  # noqa: PLC0415 - not loaded for a file

    return ServerLink


class SqlBook:
    """Opens units of work on one book; each checks version and protections of what it opened."""

    def __init__(self, location: str | Path) -> None:
        """Name the book, a file or the URL of a PostgreSQL server; nothing is opened yet.

        Raises:
            UsageError: the location is a URL of another kind.
        """
        self.server: Server | None = None
        if is_server(location):
            from records.storage.server import server_of  # noqa: PLC0415 - not loaded for a file

            self.server = server_of(location)
        self._path = None if self.server else book_path(location)
        self._engines: dict[bool, Engine] = {}

    @property
    def path(self) -> Path:
        """Return the book's file.

        Raises:
            UsageError: the book is on a server.
        """
        if self._path is None:
            raise UsageError("this needs a book that is a file", "Write --book FILE")
        return self._path

    def __str__(self) -> str:
        """Return where the book is, without a password."""
        return str(self.server or self._path)

    def _engine(self, *, writing: bool) -> Engine:
        if self.server is None:
            return make_engine(self.path, read_only=not writing)
        from records.storage import server  # noqa: PLC0415 - not loaded for a file

        return server.make_engine(self.server, read_only=not writing)

    def _unit(self, *, writing: bool, check: Callable[[Link], None] = check_book) -> SqlUnitOfWork:
        if writing not in self._engines:
            self._engines[writing] = self._engine(writing=writing)
        return SqlUnitOfWork(self._engines[writing], str(self), writing=writing, check=check)

    def write(self) -> SqlUnitOfWork:
        """Return a unit of work that may write."""
        return self._unit(writing=True)

    def read(self) -> SqlUnitOfWork:
        """Return a unit of work that cannot write."""
        return self._unit(writing=False)

    def examine(self) -> SqlUnitOfWork:
        """Return a reading unit of work that also opens a book whose protections are gone."""
        return self._unit(writing=False, check=check_identity)
