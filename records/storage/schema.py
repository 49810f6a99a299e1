"""What every book must have: its mark, its schema version, and the triggers that refuse change.

The one change there is, the removal of a whole year, drops the triggers it needs and makes them again within its
transaction (`removal.py`), so that no one else ever sees the book without them.

Kept free of Alembic, so that opening a book does not load it; a test holds `VERSIONS` equal to the migration scripts.
"""

from __future__ import annotations

APPLICATION_ID = 0x53574248  # "SWBH" in the file's header: a Swathbook book
REPLACED = 0x53574258  # "SWBX": what a book was before a restore put another one in its place

VERSIONS = ("20261125_first", "20261126_events", "20261127_server", "20261128_account")  # oldest first
HEAD = VERSIONS[-1]

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
# Where a year that is removed takes its rows from, children first
OF_A_YEAR = ("application_target", "application_active", "application_zone", "application", "use_group", "revision")


def _trigger(table: str, event: str) -> str:
    return (
        f"CREATE TRIGGER {table}_no_{event.lower()} BEFORE {event} ON {table} "
        f"BEGIN SELECT RAISE(ABORT, '{table} is append-only'); END"
    )


# name -> text as SQLite keeps it
TRIGGERS = {
    f"{table}_no_{event.lower()}": _trigger(table, event) for table in PROTECTED for event in ("UPDATE", "DELETE")
}

# Bits of a trigger's kind in PostgreSQL's catalogue (src/include/catalog/pg_trigger.h)
_ROW, _BEFORE, _DELETE, _UPDATE, _TRUNCATE = 1, 2, 8, 16, 32
# name, table and kind of what protects a book on a server
SERVER_TRIGGERS = tuple(
    (f"{table}_no_{event}", table, kind)
    for table in PROTECTED
    for event, kind in (
        ("update", _ROW | _BEFORE | _UPDATE),
        ("delete", _ROW | _BEFORE | _DELETE),
        ("truncate", _BEFORE | _TRUNCATE),
    )
)


def server_trigger(name: str) -> str:
    """Return the text that makes a trigger of a server's book."""
    table, _, event = name.rpartition("_no_")
    each = "STATEMENT" if event == "truncate" else "ROW"
    return f"CREATE TRIGGER {name} BEFORE {event.upper()} ON {table} FOR EACH {each} EXECUTE FUNCTION book_refuse()"
