"""Events in the chain, stubs of removed years, and a firm's own rule packs.

`revision` and `catalogue` are made anew, since SQLite cannot change a CHECK. Going down is refused by the older checks
where the book already holds what they do not know: it cannot be taken out of the chain.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "20261126_events"
down_revision = "20261125_first"
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
        "CREATE TRIGGER revision_no_update BEFORE UPDATE ON revision "
        "BEGIN SELECT RAISE(ABORT, 'revision is append-only'); END"
    ),
    (
        "CREATE TRIGGER revision_no_delete BEFORE DELETE ON revision "
        "BEGIN SELECT RAISE(ABORT, 'revision is append-only'); END"
    ),
    (
        "CREATE TRIGGER removed_revision_no_update BEFORE UPDATE ON removed_revision "
        "BEGIN SELECT RAISE(ABORT, 'removed_revision is append-only'); END"
    ),
    (
        "CREATE TRIGGER removed_revision_no_delete BEFORE DELETE ON removed_revision "
        "BEGIN SELECT RAISE(ABORT, 'removed_revision is append-only'); END"
    ),
)
OF_REBUILT = TRIGGERS[:4]


def upgrade() -> None:
    _make_removed_revision()
    _rebuild_catalogue(
        sa.CheckConstraint(
            "kind IN ('business', 'person', 'customer', 'site', 'product', 'equipment', 'mix', 'pack')",
            name=op.f("ck_catalogue_kind_word_2"),
        )
    )
    _rebuild_revision(
        sa.CheckConstraint("kind IN ('visit', 'usage', 'event')", name=op.f("ck_revision_kind_word_2")),
        sa.CheckConstraint("(kind = 'event') = (year = 0)", name=op.f("ck_revision_kind_year")),
    )
    op.create_index(
        "ix_revision_person",
        "revision",
        ["applicator_id", "local_date", "serial", "revision", "applicator_name"],
        unique=False,
    )
    op.create_index(
        "ix_revision_event",
        "revision",
        ["origin", "local_date"],
        unique=False,
        sqlite_where=sa.text("kind = 'event'"),
        postgresql_where=sa.text("kind = 'event'"),
    )
    op.create_index(
        "ix_revision_customer",
        "revision",
        ["customer_id", "customer_name", "origin"],
        unique=False,
        sqlite_where=sa.text("origin = 'import'"),
        postgresql_where=sa.text("origin = 'import'"),
    )
    _protect(TRIGGERS)


def downgrade() -> None:
    _rebuild_catalogue(
        sa.CheckConstraint(
            "kind IN ('business', 'person', 'customer', 'site', 'product', 'equipment', 'mix')",
            name=op.f("ck_catalogue_kind_word"),
        )
    )
    _rebuild_revision(sa.CheckConstraint("kind IN ('visit', 'usage')", name=op.f("ck_revision_kind_word")))
    op.create_index("ix_revision_applicator_id_local_date", "revision", ["applicator_id", "local_date"], unique=False)
    op.drop_table("removed_revision")
    _protect(OF_REBUILT)


def _is_file() -> bool:
    return op.get_context().dialect.name == "sqlite"


def _protect(triggers: tuple[str, ...]) -> None:
    if _is_file():  # a server gets its own with the third version
        for trigger in triggers:
            op.execute(trigger)


def _check_anew(table: str, kinds: tuple[sa.CheckConstraint, ...], *before: str) -> None:
    """Put other checks in place of those of a server's table."""
    for name in before:
        op.drop_constraint(op.f(name), table, type_="check")
    for check in kinds:
        op.create_check_constraint(op.f(str(check.name)), table, check.sqltext)


def _make_removed_revision() -> None:
    op.create_table(
        "removed_revision",
        sa.Column("id", WIDE, autoincrement=False, nullable=False),
        sa.Column("serial", TEXT, nullable=False),
        sa.Column("revision", WIDE, nullable=False),
        sa.Column("seal", TEXT, nullable=False),
        sa.Column("event_serial", TEXT, nullable=False),
        sa.CheckConstraint("length(seal) = 64", name=op.f("ck_removed_revision_seal_length")),
        sa.PrimaryKeyConstraint("id", name="pk_removed_revision"),
        sa.UniqueConstraint("serial", "revision", name="uq_removed_revision_serial_revision"),
        sqlite_strict=True,
    )


def _put_in_place(table: str) -> None:
    """Copy all rows into the table made anew, in the order of their keys, and let it take the old one's name."""
    op.execute(f"INSERT INTO new_{table} SELECT * FROM {table}")  # noqa: S608 - a table of ours, same columns
    op.drop_table(table)  # with its indexes and triggers
    op.rename_table(f"new_{table}", table)


def _rebuild_catalogue(*kinds: sa.CheckConstraint) -> None:
    if not _is_file():
        going_up = "'pack'" in str(kinds[0].sqltext)
        _check_anew("catalogue", kinds, f"ck_catalogue_kind_word{'' if going_up else '_2'}")
        return
    op.create_table(
        "new_catalogue",
        sa.Column("kind", TEXT, nullable=False),
        sa.Column("id", TEXT, nullable=False),
        sa.Column("version", WIDE, autoincrement=False, nullable=False),
        sa.Column("loaded_at", TEXT, nullable=False),
        sa.Column("body", TEXT, nullable=False),
        sa.CheckConstraint("loaded_at LIKE '____-__-__T__:__:__%Z'", name=op.f("ck_catalogue_loaded_at_instant")),
        sa.CheckConstraint("version >= 0", name=op.f("ck_catalogue_version_range")),
        sa.PrimaryKeyConstraint("kind", "id", "version", name="pk_catalogue"),
        *kinds,
        sqlite_strict=True,
    )
    _put_in_place("catalogue")


def _rebuild_revision(*kinds: sa.CheckConstraint) -> None:
    if not _is_file():
        op.drop_index("ix_revision_applicator_id_local_date" if len(kinds) == 2 else "ix_revision_person")
        before = ("ck_revision_kind_word",) if len(kinds) == 2 else ("ck_revision_kind_word_2", "ck_revision_kind_year")
        if len(kinds) == 1:
            op.drop_index("ix_revision_event")
            op.drop_index("ix_revision_customer")
        _check_anew("revision", kinds, *before)
        return
    op.create_table(
        "new_revision",
        sa.Column("id", WIDE, autoincrement=False, nullable=False),
        sa.Column("serial", TEXT, nullable=False),
        sa.Column("revision", WIDE, nullable=False),
        sa.Column("year", WIDE, nullable=False),
        sa.Column("number", WIDE, nullable=False),
        sa.Column("kind", TEXT, nullable=False),
        sa.Column("action", TEXT, nullable=False),
        sa.Column("ref", TEXT, nullable=True),
        sa.Column("document_digest", TEXT, nullable=False),
        sa.Column("sealed_at", TEXT, nullable=False),
        sa.Column("previous", TEXT, nullable=False),
        sa.Column("seal", TEXT, nullable=False),
        sa.Column("local_date", TEXT, nullable=True),
        sa.Column("period", TEXT, nullable=False),
        sa.Column("started_utc", TEXT, nullable=True),
        sa.Column("finished_utc", TEXT, nullable=True),
        sa.Column("timezone", TEXT, nullable=False),
        sa.Column("entered_at", TEXT, nullable=False),
        sa.Column("site_id", TEXT, nullable=True),
        sa.Column("customer_id", TEXT, nullable=True),
        sa.Column("customer_name", TEXT, nullable=True),
        sa.Column("address", TEXT, nullable=True),
        sa.Column("city", TEXT, nullable=True),
        sa.Column("county", TEXT, nullable=True),
        sa.Column("zip", TEXT, nullable=True),
        sa.Column("state", TEXT, nullable=True),
        sa.Column("applicator_id", TEXT, nullable=True),
        sa.Column("applicator_name", TEXT, nullable=True),
        sa.Column("origin", TEXT, nullable=False),
        sa.Column("deviation", WIDE, nullable=False),
        sa.Column("incomplete", WIDE, nullable=False),
        sa.Column("late_days", WIDE, nullable=False),
        sa.Column("body", TEXT, nullable=False),
        sa.CheckConstraint("action IN ('sealed', 'amended', 'voided')", name=op.f("ck_revision_action_word")),
        sa.CheckConstraint("local_date LIKE '____-__-__'", name=op.f("ck_revision_local_date_day")),
        sa.CheckConstraint("sealed_at LIKE '____-__-__T__:__:__%Z'", name=op.f("ck_revision_sealed_at_instant")),
        sa.CheckConstraint("deviation IN (0, 1)", name=op.f("ck_revision_deviation_flag")),
        sa.CheckConstraint("incomplete IN (0, 1)", name=op.f("ck_revision_incomplete_flag")),
        sa.CheckConstraint("late_days >= 0", name=op.f("ck_revision_late_days_range")),
        sa.CheckConstraint("length(document_digest) = 64", name=op.f("ck_revision_document_digest_length")),
        sa.CheckConstraint("length(period) = 7", name=op.f("ck_revision_period_length")),
        sa.CheckConstraint("length(seal) = 64", name=op.f("ck_revision_seal_length")),
        sa.CheckConstraint("number >= 0", name=op.f("ck_revision_number_range")),
        sa.PrimaryKeyConstraint("id", name="pk_revision"),
        sa.UniqueConstraint("seal", name="uq_revision_seal"),
        sa.UniqueConstraint("serial", "revision", name="uq_revision_serial_revision"),
        sa.UniqueConstraint("year", "number", "revision", name="uq_revision_year_number_revision"),
        *kinds,
        sqlite_strict=True,
    )
    _put_in_place("revision")
    op.create_index(
        "ix_revision_flagged",
        "revision",
        ["year", "number"],
        unique=False,
        sqlite_where=sa.text("deviation > 0 OR incomplete > 0 OR late_days > 0"),
        postgresql_where=sa.text("deviation > 0 OR incomplete > 0 OR late_days > 0"),
    )
    op.create_index(
        "ix_revision_later",
        "revision",
        ["serial", "revision", "action"],
        unique=False,
        sqlite_where=sa.text("revision > 1"),
        postgresql_where=sa.text("revision > 1"),
    )
    op.create_index(
        "ix_revision_ref",
        "revision",
        ["ref"],
        unique=True,
        sqlite_where=sa.text("revision = 1 AND ref IS NOT NULL"),
        postgresql_where=sa.text("revision = 1 AND ref IS NOT NULL"),
    )
    op.create_index("ix_revision_site_id_local_date", "revision", ["site_id", "local_date"], unique=False)
