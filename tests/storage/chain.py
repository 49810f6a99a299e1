"""Seals invented bodies into a book, the way the services do."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from records.services.events import append_event
from records.services.ports import StoredRevision
from records.services.sealing import sealed
from records.storage.base import Base
from records.storage.schema import PROTECTED, TRIGGERS
from tests.bodies import visit_body

if TYPE_CHECKING:
    from records.services.ports import UnitOfWork
    from records.storage.unit_of_work import SqlBook

AT = "2026-05-14T14:33:01.123456Z"
NOW = datetime(2026, 5, 14, 14, 33, 1, 123456, tzinfo=UTC)
ZONE = "America/Chicago"


def append(
    unit: UnitOfWork, body: dict[str, Any], serial: str | None = None, revision: int = 1, action: str = "sealed"
) -> StoredRevision:
    """Seal a body as the next revision of the book and append it."""
    year = int(body["period"][:4])
    serial = serial or f"{year}-{unit.records.next_number(year):06d}"
    previous = unit.records.head()
    mark, text = sealed(previous, serial, revision, AT, body)
    made = StoredRevision(0, serial, revision, action, AT, previous, mark, body, text)
    unit.records.append(made)
    return made


def fill(book: SqlBook, *bodies: dict[str, Any]) -> list[StoredRevision]:
    """Append first revisions in one transaction."""
    with book.write() as unit:
        made = [append(unit, body) for body in bodies]
        unit.commit()
    return made


def visit(number: int, day: str = "2026-05-14", **changes: object) -> dict[str, Any]:
    """Return a body with a reference and a day of its own."""
    return visit_body(
        ref=f"visit-{number}",
        date=day,
        period=day[:7],
        started={"local": f"{day}T09:10-05:00", "utc": f"{day}T14:10:00Z"},
        finished={"local": f"{day}T09:32-05:00", "utc": f"{day}T14:32:00Z"},
        **changes,
    )


def later(body: dict[str, Any], action: str, **changes: object) -> dict[str, Any]:
    """Return the body of an amendment or a voiding."""
    return body | {"change": {"action": action, "reason": "wrong lot", "by": "ada"}} | changes


def remove(book: SqlBook, year: int) -> StoredRevision:
    """Seal the removal of a year and carry it out, in one transaction."""
    with book.write() as unit:
        stubs = unit.records.stubs_of(year)
        assert stubs is not None
        data = stubs.data(year) | {"why": ["kept long enough"]}
        event = append_event(unit, "removal", data, NOW, day=NOW.date(), timezone=ZONE)
        assert unit.records.remove_year(year, event) == stubs.count
        unit.commit()
    return event


def tamper(book: SqlBook, *statements: str) -> None:
    """Change a book as some other tool could: protections removed, and put back afterwards."""
    if book.server is not None:
        import psycopg  # noqa: PLC0415 - only where there is a server

        with psycopg.connect(book.server.url) as connection:
            connection.execute("SET session_replication_role = replica")  # neither triggers nor references are asked
            for statement in statements:
                connection.execute(statement)
        return
    with closing(sqlite3.connect(book.path, isolation_level=None)) as connection:
        for name in TRIGGERS:
            connection.execute(f"DROP TRIGGER {name}")
        for statement in statements:
            connection.execute(statement)
        for text in TRIGGERS.values():
            connection.execute(text)


def dump(book: SqlBook) -> dict[str, list[Any]]:
    """Return all rows of all tables, in the order of their keys."""
    found: dict[str, list[Any]] = {}
    with book.examine() as unit:
        assert unit.link is not None
        for table in PROTECTED:
            keys = ", ".join(column.name for column in Base.metadata.tables[table].primary_key.columns)
            columns = ", ".join(f'"{column.name}"' for column in Base.metadata.tables[table].columns)
            statement = f"SELECT {columns} FROM {table} ORDER BY {keys}"  # noqa: S608 - a table of ours
            found[table] = unit.link.raw.execute(statement).fetchall()
    return found
