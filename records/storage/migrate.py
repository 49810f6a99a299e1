"""Makes and upgrades books: the only module that runs Alembic, and nothing imports it before it is needed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from alembic import command
from alembic.config import Config

from records import resources
from records.errors import BookDamagedError
from records.storage.backup import copy_book, free_name
from records.storage.engine import book_path, connect, create_file, is_server, make_engine
from records.storage.faults import translated
from records.storage.guard import check_mark, check_version, is_blank, newer, read_version
from records.storage.placing import draft_for, place
from records.storage.schema import APPLICATION_ID, HEAD, VERSIONS

if TYPE_CHECKING:
    from pathlib import Path

    from sqlalchemy import Connection


@dataclass(frozen=True, slots=True)
class Upgrade:
    """What `upgrade` did."""

    where: str
    before: str | None  # schema version found; None for a new book
    after: str
    backup: str | None  # copy of the book as it was: a file, or a schema beside it on the server

    @property
    def made(self) -> bool:
        """Return whether there was no book before."""
        return self.before is None

    def __str__(self) -> str:
        """Say what was done."""
        if self.before is None:
            return "made"
        if self.backup is None:
            return "already up to date"
        return f"upgraded from {self.before} to {self.after}; a copy of it as it was is {self.backup}"


def alembic_config(connection: Connection | None = None) -> Config:
    """Return an Alembic configuration that works in a checkout and in a wheel.

    Args:
        connection: to run on, already in a transaction.
    """
    config = Config()
    config.set_main_option("script_location", str(resources.migrations()).replace("%", "%%"))
    if connection is not None:
        config.attributes["connection"] = connection
    return config


def _present_version(path: Path) -> str | None:
    """Return the schema version of a file; None where there is nothing yet."""
    if not path.exists() or path.stat().st_size == 0:
        return None
    connection = connect(path)
    try:
        if is_blank(connection):
            return None  # whoever began to make a book there was stopped
        check_mark(connection, str(path))
        return read_version(connection)
    finally:
        connection.close()


def check_upgradable(path: Path) -> None:
    """Refuse a file that is no book of this version or an earlier one.

    Raises:
        BookVersionError: it was made by a newer version of the tool.
        BookDamagedError: it is no book, or does not say its version.
    """
    with translated(str(path)):
        version = _present_version(path)
    if version is None:
        check_version(version, str(path))
    elif version not in VERSIONS:
        raise newer(version, str(path))


def _run(path: Path) -> None:
    """Bring a book to the newest version in one transaction."""
    engine = make_engine(path, for_migration=True)
    with engine.begin() as connection:
        connection.exec_driver_sql(f"PRAGMA application_id = {APPLICATION_ID}")
        command.upgrade(alembic_config(connection), "head")
        broken = connection.exec_driver_sql("PRAGMA foreign_key_check").all()
        if broken:
            raise BookDamagedError(
                f"the upgrade of {path} left {len(broken)} rows without what they belong to", "Nothing was changed"
            )


def upgrade(location: str | Path) -> Upgrade:
    """Make a book, or bring an existing one to the newest schema version, keeping a copy beside it.

    Args:
        location: path of the book, or URL of a PostgreSQL server.

    Raises:
        BookVersionError: the book was made by a newer version of the tool.
        BookDamagedError: the file or database is not a book.
        StorageError: it cannot be written.
    """
    if is_server(location):
        from records.storage.server_migrate import upgrade_server  # noqa: PLC0415 - not loaded for a file

        where, before, copy = upgrade_server(location)
        return Upgrade(where, before, HEAD, copy)
    path = book_path(location)
    where = str(path)
    with translated(where):
        before = _present_version(path)
        if before == HEAD:
            return Upgrade(where, before, HEAD, None)
        if before is not None and before not in VERSIONS:
            raise newer(before, where)
        backup = None
        if before is None:
            create_file(path)
        else:
            backup = free_name(path.with_name(f"{path.name}.before-{HEAD}"))
            with draft_for(backup) as draft:  # half a copy must not have the name of a whole one
                copy_book(path, draft)
                place(draft, backup, replace=False)
        _run(path)
    return Upgrade(where, before, HEAD, None if backup is None else str(backup))
