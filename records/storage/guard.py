"""What is checked each time a book is opened: its mark, its schema version, its triggers. Loads no Alembic."""

from __future__ import annotations

from typing import TYPE_CHECKING

from records.errors import BookDamagedError, BookVersionError
from records.storage.schema import APPLICATION_ID, HEAD, TRIGGERS, VERSIONS

if TYPE_CHECKING:
    import sqlite3

    from records.storage.link import Link


def check_mark(connection: sqlite3.Connection, where: str) -> None:
    """Refuse a database that is not a book.

    Raises:
        BookDamagedError: the file's header does not carry the book's mark.
    """
    (mark,) = connection.execute("PRAGMA application_id").fetchone()
    if mark != APPLICATION_ID:
        raise BookDamagedError(f"{where} is a database, but not a book", "Name another file, or make a book with init")


def read_version(connection: sqlite3.Connection) -> str | None:
    """Return the schema version that the book says it has; None when it says nothing."""
    found = connection.execute(
        "SELECT 1 FROM sqlite_master WHERE type = 'table' AND name = 'alembic_version'"
    ).fetchone()
    row = connection.execute("SELECT version_num FROM alembic_version").fetchone() if found else None
    return None if row is None else str(row[0])


def check_version(version: str | None, where: str) -> None:
    """Refuse a book of another schema version.

    Raises:
        BookVersionError: it is older or newer than this tool.
        BookDamagedError: it does not say.
    """
    if version == HEAD:
        return
    if version is None:
        raise BookDamagedError(f"{where} does not say which version it has", "Restore it from a backup")
    if version in VERSIONS:
        raise BookVersionError(
            f"the book {where} was made by an older version of the tool",
            "Upgrade it (a copy is kept beside it): swathbook init",
        )
    raise newer(version, where)


def newer(version: str, where: str) -> BookVersionError:
    """Return the error for a book that this version of the tool cannot know."""
    return BookVersionError(
        f"the book {where} was made by a newer version of the tool (schema {version!r:.60})", "Update the tool"
    )


def missing_triggers(connection: sqlite3.Connection) -> list[str]:
    """Return the names of protective triggers that are absent or not as made."""
    found = dict(connection.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'"))
    return [name for name, text in TRIGGERS.items() if found.get(name) != text]


def check_identity(link: Link) -> None:
    """Refuse a file that is no book, and a book of another schema version.

    Raises:
        BookDamagedError: not a book.
        BookVersionError: it is older or newer than this tool.
    """
    check_mark(link.raw, link.where)
    check_version(read_version(link.raw), link.where)


def check_book(link: Link) -> None:
    """Refuse what must not be worked on.

    Raises:
        BookDamagedError: not a book, or its protections are gone.
        BookVersionError: it is older or newer than this tool.
    """
    check_identity(link)
    missing = missing_triggers(link.raw)
    if missing:
        raise BookDamagedError(
            f"protections of the book {link.where} are gone ({', '.join(missing)}): something else changed it",
            "Compare it with a backup: swathbook verify",
        )
