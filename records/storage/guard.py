"""What is checked each time a book is opened: its mark, its schema version, its triggers. Loads no Alembic."""

from __future__ import annotations

from typing import TYPE_CHECKING

from records.errors import BookBusyError, BookDamagedError, BookMissingError, BookVersionError
from records.storage.schema import APPLICATION_ID, HEAD, PROTECTED, REPLACED, SERVER_TRIGGERS, TRIGGERS, VERSIONS

if TYPE_CHECKING:
    import sqlite3

    from records.storage.link import Link
    from records.storage.server import ServerLink

# As they stand: those that are switched off do not protect
_SERVER_TRIGGERS = """
    SELECT t.tgname, c.relname, t.tgtype, f.proname, f.prosrc
    FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid JOIN pg_proc f ON f.oid = t.tgfoid
    WHERE NOT t.tgisinternal AND t.tgenabled IN ('O', 'A') AND pg_table_is_visible(c.oid)
"""
_SECURED = "SELECT relname FROM pg_class WHERE relrowsecurity AND relkind = 'r' AND pg_table_is_visible(oid)"


def is_blank(connection: sqlite3.Connection) -> bool:
    """Return whether there is nothing in a file; reading takes back what a crash left half done."""
    tables = connection.execute("SELECT count(*) FROM sqlite_master").fetchone()
    mark = connection.execute("PRAGMA application_id").fetchone()
    return (*tables, *mark) == (0, 0)


def check_mark(connection: sqlite3.Connection, where: str) -> None:
    """Refuse a database that is not a book.

    Raises:
        BookDamagedError: the file's header does not carry the book's mark.
        BookBusyError: a restore has put another book in its place since it was opened.
    """
    (mark,) = connection.execute("PRAGMA application_id").fetchone()
    if mark == REPLACED:
        raise BookBusyError(f"the book {where} was restored from a backup just now", "Nothing was written; try again")
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


def unprotected(link: Link) -> list[str]:
    """Return the names of a book's protections that are absent or not as made."""
    return _missing_on_server(link) if link.is_server else missing_triggers(link.raw)  # type: ignore[arg-type]


def _missing_on_server(link: ServerLink) -> list[str]:
    found = {
        (name, table, int(kind), bool(function == "book_refuse" and "append-only" in source))
        for name, table, kind, function, source in link.ask(_SERVER_TRIGGERS)
    }
    missing = [name for name, table, kind in SERVER_TRIGGERS if (name, table, kind, True) not in found]
    secured = {str(name) for (name,) in link.ask(_SECURED)}
    return missing + [f"row security of {table}" for table in PROTECTED if table not in secured]


def check_identity(link: Link) -> None:
    """Refuse a file or database that is no book, and a book of another schema version.

    Raises:
        BookDamagedError: not a book.
        BookMissingError: the server's database is empty.
        BookVersionError: it is older or newer than this tool.
    """
    if link.is_server:
        check_version(server_version(link), link.where)  # type: ignore[arg-type]
        return
    if is_blank(link.raw):
        raise BookMissingError(link.where)
    check_mark(link.raw, link.where)
    check_version(read_version(link.raw), link.where)


def server_version(link: ServerLink) -> str | None:
    """Return the schema version of a book on a server.

    Raises:
        BookMissingError: there is no book.
        BookDamagedError: there is a part of one.
    """
    versions, rows = (link.ask("SELECT to_regclass(%s)", name)[0][0] for name in ("alembic_version", "revision"))
    if versions is None and rows is None:
        raise BookMissingError(link.where)
    if versions is None or rows is None:
        raise BookDamagedError(f"{link.where} is a database, but not a book", "Name another one")
    found = link.ask("SELECT version_num FROM alembic_version")
    return str(found[0][0]) if found else None


def check_book(link: Link) -> None:
    """Refuse what must not be worked on.

    Raises:
        BookDamagedError: not a book, or its protections are gone.
        BookMissingError: the server's database is empty.
        BookVersionError: it is older or newer than this tool.
    """
    check_identity(link)
    missing = unprotected(link)
    if missing:
        few = ", ".join(missing[:3]) + (f" and {len(missing) - 3} more" if len(missing) > 3 else "")
        raise BookDamagedError(
            f"protections of the book {link.where} are gone ({few}): something else changed it",
            "swathbook verify tells what differs; go on with a backup: swathbook restore",
        )
