"""Seals over the rows of the catalogue and of held visits, and all that protects a book on a server.

`catalogue` and `held_event` are made anew in a file, since SQLite adds no column that must have a value of its own.
"""

from __future__ import annotations

import json
from hashlib import sha256
from typing import TYPE_CHECKING, Any

import sqlalchemy as sa
from alembic import op

if TYPE_CHECKING:
    from collections.abc import Iterable

revision = "20261127_server"
down_revision = "20261126_events"
branch_labels = None
depends_on = None

WIDE = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
TEXT = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")

TRIGGERS = (
    (
        "CREATE TRIGGER catalogue_no_update BEFORE UPDATE ON catalogue "
        "BEGIN SELECT RAISE(ABORT, 'catalogue is append-only'); END"
    ),
    (
        "CREATE TRIGGER catalogue_no_delete BEFORE DELETE ON catalogue "
        "BEGIN SELECT RAISE(ABORT, 'catalogue is append-only'); END"
    ),
    (
        "CREATE TRIGGER held_event_no_update BEFORE UPDATE ON held_event "
        "BEGIN SELECT RAISE(ABORT, 'held_event is append-only'); END"
    ),
    (
        "CREATE TRIGGER held_event_no_delete BEFORE DELETE ON held_event "
        "BEGIN SELECT RAISE(ABORT, 'held_event is append-only'); END"
    ),
)
PROTECTED = (
    "catalogue",
    "revision",
    "use_group",
    "application",
    "application_target",
    "application_active",
    "application_zone",
    "held_event",
    "removed_revision",
)
REFUSE = """
CREATE FUNCTION book_refuse() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION '% is append-only', TG_TABLE_NAME USING ERRCODE = 'integrity_constraint_violation';
END
$$
"""
# The best way to compare texts in whatever case that the server has: from 18 on as Unicode says, else in lower case.
CASEFOLD = """
DO $do$
DECLARE
    version integer := current_setting('server_version_num')::integer;
    rule text := 'lower($1)';
BEGIN
    IF version >= 180000 THEN
        rule := 'casefold($1 COLLATE "pg_unicode_fast")';
    ELSIF version >= 170000 THEN
        rule := 'lower($1 COLLATE "pg_c_utf8")';
    ELSIF EXISTS (SELECT FROM pg_collation WHERE collname = 'und-x-icu') THEN
        rule := 'lower($1 COLLATE "und-x-icu")';
    END IF;
    EXECUTE format('CREATE FUNCTION book_casefold(text) RETURNS text LANGUAGE sql IMMUTABLE PARALLEL SAFE STRICT'
        ' RETURN (%s) COLLATE "C"', rule);
END
$do$
"""
CATALOGUE = ("number", "kind", "id", "version", "loaded_at", "body")
HELD = ("id", "number", "seq", "kind", "at", "ref", "person", "reason", "serial", "document", "findings")


def upgrade() -> None:
    if _is_file():
        _remake_catalogue()
        _remake_held_event()
        for trigger in TRIGGERS:
            op.execute(trigger)
    else:
        _widen("catalogue", "number", "seal")
        _widen("held_event", "seal")
        _protect_server()


def downgrade() -> None:
    if _is_file():
        _unmake_catalogue()
        _unmake_held_event()
        for trigger in TRIGGERS:
            op.execute(trigger)
    else:
        for table in PROTECTED:
            for event in ("update", "delete", "truncate"):
                op.execute(f"DROP TRIGGER {table}_no_{event} ON {table}")
            op.execute(f"DROP POLICY book_read ON {table}")
            op.execute(f"DROP POLICY book_add ON {table}")
            op.execute(f"ALTER TABLE {table} DISABLE ROW LEVEL SECURITY")
        op.execute("DROP FUNCTION book_refuse()")
        op.execute("DROP FUNCTION book_casefold(text)")
        op.drop_column("catalogue", "seal")
        op.drop_column("catalogue", "number")
        op.drop_column("held_event", "seal")


def _is_file() -> bool:
    return op.get_context().dialect.name == "sqlite"


def _sealed(rows: Iterable[dict[str, Any]], names: tuple[str, ...]) -> list[dict[str, Any]]:
    """Return rows with the seal that chains each to the one before it."""
    found, previous = [], ""
    for row in rows:
        text = json.dumps([previous, *(row[name] for name in names)], ensure_ascii=False, separators=(",", ":"))
        previous = sha256(text.encode()).hexdigest()
        found.append(row | {"seal": previous})
    return found


def _catalogue_rows() -> list[dict[str, Any]]:
    """Return the documents in the order of loading, counted."""
    order = "rowid" if _is_file() else "kind, id, version"
    rows = op.get_bind().execute(
        sa.text(f"SELECT kind, id, version, loaded_at, body FROM catalogue ORDER BY loaded_at, {order}")  # noqa: S608
    )
    counted = ({"number": number, **row._mapping} for number, row in enumerate(rows, 1))  # noqa: SLF001 - its name
    return _sealed(counted, CATALOGUE)


def _held_rows() -> list[dict[str, Any]]:
    listed = ", ".join(f'"{name}"' for name in HELD)
    rows = op.get_bind().execute(sa.text(f"SELECT {listed} FROM held_event ORDER BY id"))  # noqa: S608 - ours
    return _sealed((dict(row._mapping) for row in rows), HELD)  # noqa: SLF001 - its name


def _fill(table: str, rows: list[dict[str, Any]]) -> None:
    if rows:
        listed = ", ".join(f'"{name}"' for name in rows[0])
        values = ", ".join(f":{name}" for name in rows[0])
        op.get_bind().execute(sa.text(f"INSERT INTO {table} ({listed}) VALUES ({values})"), rows)  # noqa: S608 - ours


def _in_place(table: str) -> None:
    op.drop_table(table)  # with its indexes and triggers
    op.rename_table(f"new_{table}", table)


def _make_catalogue(*more: sa.schema.SchemaItem, checks: tuple[sa.Constraint, ...] = ()) -> None:
    op.create_table(
        "new_catalogue",
        sa.Column("kind", TEXT, nullable=False),
        sa.Column("id", TEXT, nullable=False),
        sa.Column("version", WIDE, autoincrement=False, nullable=False),
        *more[:1],
        sa.Column("loaded_at", TEXT, nullable=False),
        *more[1:],
        sa.Column("body", TEXT, nullable=False),
        sa.CheckConstraint(
            "kind IN ('business', 'person', 'customer', 'site', 'product', 'equipment', 'mix', 'pack')",
            name=op.f("ck_catalogue_kind_word_2"),
        ),
        sa.CheckConstraint("loaded_at LIKE '____-__-__T__:__:__%Z'", name=op.f("ck_catalogue_loaded_at_instant")),
        sa.CheckConstraint("version >= 0", name=op.f("ck_catalogue_version_range")),
        sa.PrimaryKeyConstraint("kind", "id", "version", name="pk_catalogue"),
        *checks,
        sqlite_strict=True,
    )


def _remake_catalogue() -> None:
    rows = _catalogue_rows()
    _make_catalogue(
        sa.Column("number", WIDE, nullable=False),
        sa.Column("seal", TEXT, nullable=False),
        checks=(
            sa.CheckConstraint("length(seal) = 64", name=op.f("ck_catalogue_seal_length")),
            sa.UniqueConstraint("number", name="uq_catalogue_number"),
        ),
    )
    _fill("new_catalogue", rows)
    _in_place("catalogue")


def _unmake_catalogue() -> None:
    _make_catalogue()
    op.execute("INSERT INTO new_catalogue SELECT kind, id, version, loaded_at, body FROM catalogue ORDER BY number")
    _in_place("catalogue")


def _make_held_event(*more: sa.schema.SchemaItem, checks: tuple[sa.Constraint, ...] = ()) -> None:
    op.create_table(
        "new_held_event",
        sa.Column("id", WIDE, autoincrement=False, nullable=False),
        sa.Column("number", TEXT, nullable=False),
        sa.Column("seq", WIDE, nullable=False),
        sa.Column("kind", TEXT, nullable=False),
        sa.Column("at", TEXT, nullable=False),
        sa.Column("ref", TEXT, nullable=True),
        sa.Column("person", TEXT, nullable=True),
        sa.Column("reason", TEXT, nullable=False),
        sa.Column("serial", TEXT, nullable=True),
        *more,
        sa.Column("document", TEXT, nullable=False),
        sa.Column("findings", TEXT, nullable=False),
        sa.CheckConstraint("at LIKE '____-__-__T__:__:__%Z'", name=op.f("ck_held_event_at_instant")),
        sa.CheckConstraint("kind IN ('held', 'corrected', 'sealed', 'dropped')", name=op.f("ck_held_event_kind_word")),
        sa.CheckConstraint("seq >= 0", name=op.f("ck_held_event_seq_range")),
        sa.PrimaryKeyConstraint("id", name="pk_held_event"),
        sa.UniqueConstraint("number", "seq", name="uq_held_event_number_seq"),
        *checks,
        sqlite_strict=True,
    )


def _remake_held_event() -> None:
    rows = _held_rows()
    _make_held_event(
        sa.Column("seal", TEXT, nullable=False),
        checks=(sa.CheckConstraint("length(seal) = 64", name=op.f("ck_held_event_seal_length")),),
    )
    _fill("new_held_event", rows)
    _in_place("held_event")
    op.create_index("ix_held_event_ref", "held_event", ["ref"], unique=False)


def _unmake_held_event() -> None:
    _make_held_event()
    listed = ", ".join(f'"{name}"' for name in HELD)
    op.execute(f"INSERT INTO new_held_event ({listed}) SELECT {listed} FROM held_event ORDER BY id")  # noqa: S608 - ours
    _in_place("held_event")
    op.create_index("ix_held_event_ref", "held_event", ["ref"], unique=False)


def _widen(table: str, *names: str) -> None:
    """Add sealed columns to a server's table, filled."""
    rows = _catalogue_rows() if table == "catalogue" else _held_rows()
    for name in names:
        op.add_column(table, sa.Column(name, WIDE if name == "number" else TEXT, nullable=True))
    keys = ("kind", "id", "version") if table == "catalogue" else ("id",)
    if rows:
        said = ", ".join(f"{name} = :{name}" for name in names)
        where = " AND ".join(f"{key} = :{key}" for key in keys)
        op.get_bind().execute(sa.text(f"UPDATE {table} SET {said} WHERE {where}"), rows)  # noqa: S608 - ours
    for name in names:
        op.alter_column(table, name, nullable=False)
    op.create_check_constraint(op.f(f"ck_{table}_seal_length"), table, "length(seal) = 64")
    if "number" in names:
        op.create_unique_constraint("uq_catalogue_number", table, ["number"])


def _protect_server() -> None:
    """Refuse every change and removal of rows; let roles other than the owner only read and add."""
    op.execute(REFUSE)
    op.execute(CASEFOLD)
    for table in PROTECTED:
        for event, each in (("UPDATE", "ROW"), ("DELETE", "ROW"), ("TRUNCATE", "STATEMENT")):
            op.execute(
                f"CREATE TRIGGER {table}_no_{event.lower()} BEFORE {event} ON {table}"
                f" FOR EACH {each} EXECUTE FUNCTION book_refuse()"
            )
        op.execute(f"ALTER TABLE {table} ENABLE ROW LEVEL SECURITY")
        op.execute(f"CREATE POLICY book_read ON {table} FOR SELECT USING (true)")
        op.execute(f"CREATE POLICY book_add ON {table} FOR INSERT WITH CHECK (true)")
