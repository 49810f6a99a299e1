"""Makes and upgrades books on a PostgreSQL server, and says which roles may use one."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from alembic import command
from sqlalchemy import NullPool, create_engine, text

from records.errors import BookDamagedError, InputError, StorageError
from records.storage.faults import translated
from records.storage.guard import newer
from records.storage.schema import HEAD, PROTECTED, VERSIONS
from records.storage.server import LOCK, connect, server_of

if TYPE_CHECKING:
    from pathlib import Path

    from sqlalchemy import Connection, Engine

_ROLE = re.compile(r"[A-Za-z_][A-Za-z0-9_$-]{0,62}")
_OWNER = text("SELECT pg_get_userbyid(relowner) FROM pg_class WHERE oid = to_regclass('revision')")


def _engine(location: str | Path) -> Engine:
    server = server_of(location)
    return create_engine("postgresql+psycopg://", creator=lambda: connect(server), poolclass=NullPool)


def _present_version(connection: Connection, where: str) -> str | None:
    """Return the schema version of a database; None where there is nothing yet.

    Raises:
        BookDamagedError: it holds a part of a book, or tables of the same name.
    """
    names = {
        name: connection.execute(text("SELECT to_regclass(:name)"), {"name": name}).scalar() is not None
        for name in ("alembic_version", *PROTECTED)
    }
    if not any(names.values()):
        return None
    version = None
    if names["alembic_version"]:
        version = connection.execute(text("SELECT version_num FROM alembic_version")).scalar()
    if version is None or not names["revision"]:
        raise BookDamagedError(f"{where} is a database, but not a book", "Name another one, or another schema in it")
    return str(version)


def upgrade_server(location: str | Path) -> tuple[str, str | None, str | None]:
    """Make a book, or bring an existing one to the newest schema version, keeping a copy of its tables beside it.

    All of it is one transaction, under the lock that writers of the book hold.

    Args:
        location: URL of the book.

    Returns:
        Where it is (without a password), the schema version found (None: it was made), and the schema of the copy.

    Raises:
        BookVersionError: the book was made by a newer version of the tool.
        BookDamagedError: the database holds something else.
        StorageError: the server does not answer, or its texts are not UTF-8.
    """
    from records.storage.migrate import alembic_config  # noqa: PLC0415 - which imports this module late

    where = str(server_of(location))
    with translated(where), _engine(location).begin() as connection:
        if connection.execute(text("SHOW server_encoding")).scalar() != "UTF8":
            raise StorageError(f"the texts of the database {where} are not UTF-8", "Make one with: createdb -E UTF8")
        connection.execute(text("SELECT pg_advisory_xact_lock(:lock)"), {"lock": LOCK})
        before = _present_version(connection, where)
        if before == HEAD:
            return where, before, None
        if before is not None and before not in VERSIONS:
            raise newer(before, where)
        copy = None if before is None else _keep(connection)
        command.upgrade(alembic_config(connection), "head")
    return where, before, copy


def _keep(connection: Connection) -> str:
    """Copy all tables as they are into a schema of their own; return its name."""
    present = set(connection.execute(text("SELECT nspname FROM pg_namespace")).scalars())
    name = wanted = f"before_{HEAD}"
    count = 1
    while name in present:
        count += 1
        name = f"{wanted}_{count}"
    connection.execute(text(f'CREATE SCHEMA "{name}"'))
    for table in ("alembic_version", *PROTECTED):
        if connection.execute(text("SELECT to_regclass(:name)"), {"name": table}).scalar() is not None:
            connection.execute(text(f'CREATE TABLE "{name}"."{table}" AS TABLE "{table}"'))
    return name


def grant(location: str | Path, role: str, *, read_only: bool = False) -> str:
    """Let a role of the server work with a book: read it, and add to it unless it is only to read.

    No role but the owner can change or remove anything; whoever writes can only insert.

    Args:
        location: URL of the book.
        role: an existing role.
        read_only: it may only read.

    Returns:
        Where the book is, without a password.

    Raises:
        InputError: no such name can be a role's, or it is the owner's.
        StorageError: the server refused, as where the role does not exist, or who asks does not own the book.
    """
    if not _ROLE.fullmatch(role):
        raise InputError(f"{role[:63]!r} cannot be the name of a role", "Use letters, digits, - and _")
    where = str(server_of(location))
    rights = "SELECT" if read_only else "SELECT, INSERT"
    with translated(where), _engine(location).begin() as connection:
        schema = connection.execute(text("SELECT current_schema()")).scalar()
        if connection.execute(text("SELECT 1 FROM pg_roles WHERE rolname = :role"), {"role": role}).scalar() is None:
            raise StorageError(f"the server of {where} has no role {role}", f"Make it there: createuser {role}")
        owner = str(connection.execute(_OWNER).scalar())
        if role == owner:
            # Its rights are what references between tables are checked by; taking any away would stop all sealing.
            raise InputError(f"{role} owns the book {where} and may do all that a role may", "Name another role")
        if not connection.execute(text("SELECT pg_has_role(:owner, 'USAGE')"), {"owner": owner}).scalar():
            raise StorageError(
                f"only {owner}, who owns the book {where}, may say who works with it", f"Name {owner} in the URL"
            )
        tables = ", ".join(f'"{table}"' for table in PROTECTED)
        connection.execute(text(f'GRANT USAGE ON SCHEMA "{schema}" TO "{role}"'))
        connection.execute(text(f'REVOKE ALL ON {tables} FROM "{role}"'))
        connection.execute(text(f'GRANT {rights} ON {tables} TO "{role}"'))
        connection.execute(text(f'GRANT SELECT ON alembic_version TO "{role}"'))
    return where
