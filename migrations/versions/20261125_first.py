"""The first schema: catalogue, sealed revisions with what is derived from them, held visits; all append-only."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "20261125_first"
down_revision = None
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
        "CREATE TRIGGER use_group_no_update BEFORE UPDATE ON use_group "
        "BEGIN SELECT RAISE(ABORT, 'use_group is append-only'); END"
    ),
    (
        "CREATE TRIGGER use_group_no_delete BEFORE DELETE ON use_group "
        "BEGIN SELECT RAISE(ABORT, 'use_group is append-only'); END"
    ),
    (
        "CREATE TRIGGER application_no_update BEFORE UPDATE ON application "
        "BEGIN SELECT RAISE(ABORT, 'application is append-only'); END"
    ),
    (
        "CREATE TRIGGER application_no_delete BEFORE DELETE ON application "
        "BEGIN SELECT RAISE(ABORT, 'application is append-only'); END"
    ),
    (
        "CREATE TRIGGER application_target_no_update BEFORE UPDATE ON application_target "
        "BEGIN SELECT RAISE(ABORT, 'application_target is append-only'); END"
    ),
    (
        "CREATE TRIGGER application_target_no_delete BEFORE DELETE ON application_target "
        "BEGIN SELECT RAISE(ABORT, 'application_target is append-only'); END"
    ),
    (
        "CREATE TRIGGER application_active_no_update BEFORE UPDATE ON application_active "
        "BEGIN SELECT RAISE(ABORT, 'application_active is append-only'); END"
    ),
    (
        "CREATE TRIGGER application_active_no_delete BEFORE DELETE ON application_active "
        "BEGIN SELECT RAISE(ABORT, 'application_active is append-only'); END"
    ),
    (
        "CREATE TRIGGER application_zone_no_update BEFORE UPDATE ON application_zone "
        "BEGIN SELECT RAISE(ABORT, 'application_zone is append-only'); END"
    ),
    (
        "CREATE TRIGGER application_zone_no_delete BEFORE DELETE ON application_zone "
        "BEGIN SELECT RAISE(ABORT, 'application_zone is append-only'); END"
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


def upgrade() -> None:
    _make_catalogue()
    _make_held_event()
    _make_revision()
    _make_use_group()
    _make_application()
    _make_application_active()
    _make_application_target()
    _make_application_zone()
    if op.get_context().dialect.name == "sqlite":  # a server gets its own with the third version
        for trigger in TRIGGERS:
            op.execute(trigger)


def downgrade() -> None:
    # Dropping a table drops its indexes and triggers; what refers to others goes first.
    for table in (
        "application_zone",
        "application_target",
        "application_active",
        "application",
        "use_group",
        "revision",
        "held_event",
        "catalogue",
    ):
        op.drop_table(table)


def _make_catalogue() -> None:
    op.create_table(
        "catalogue",
        sa.Column("kind", TEXT, nullable=False),
        sa.Column("id", TEXT, nullable=False),
        sa.Column("version", WIDE, autoincrement=False, nullable=False),
        sa.Column("loaded_at", TEXT, nullable=False),
        sa.Column("body", TEXT, nullable=False),
        sa.CheckConstraint(
            "kind IN ('business', 'person', 'customer', 'site', 'product', 'equipment', 'mix')",
            name=op.f("ck_catalogue_kind_word"),
        ),
        sa.CheckConstraint("loaded_at LIKE '____-__-__T__:__:__%Z'", name=op.f("ck_catalogue_loaded_at_instant")),
        sa.CheckConstraint("version >= 0", name=op.f("ck_catalogue_version_range")),
        sa.PrimaryKeyConstraint("kind", "id", "version", name="pk_catalogue"),
        sqlite_strict=True,
    )


def _make_held_event() -> None:
    op.create_table(
        "held_event",
        sa.Column("id", WIDE, autoincrement=False, nullable=False),
        sa.Column("number", TEXT, nullable=False),
        sa.Column("seq", WIDE, nullable=False),
        sa.Column("kind", TEXT, nullable=False),
        sa.Column("at", TEXT, nullable=False),
        sa.Column("ref", TEXT, nullable=True),
        sa.Column("person", TEXT, nullable=True),
        sa.Column("reason", TEXT, nullable=False),
        sa.Column("serial", TEXT, nullable=True),
        sa.Column("document", TEXT, nullable=False),
        sa.Column("findings", TEXT, nullable=False),
        sa.CheckConstraint("at LIKE '____-__-__T__:__:__%Z'", name=op.f("ck_held_event_at_instant")),
        sa.CheckConstraint("kind IN ('held', 'corrected', 'sealed', 'dropped')", name=op.f("ck_held_event_kind_word")),
        sa.CheckConstraint("seq >= 0", name=op.f("ck_held_event_seq_range")),
        sa.PrimaryKeyConstraint("id", name="pk_held_event"),
        sa.UniqueConstraint("number", "seq", name="uq_held_event_number_seq"),
        sqlite_strict=True,
    )
    op.create_index("ix_held_event_ref", "held_event", ["ref"], unique=False)


def _make_revision() -> None:
    op.create_table(
        "revision",
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
        sa.CheckConstraint("kind IN ('visit', 'usage')", name=op.f("ck_revision_kind_word")),
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
        sqlite_strict=True,
    )
    op.create_index("ix_revision_applicator_id_local_date", "revision", ["applicator_id", "local_date"], unique=False)
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


def _make_use_group() -> None:
    op.create_table(
        "use_group",
        sa.Column("id", WIDE, autoincrement=False, nullable=False),
        sa.Column("period", TEXT, nullable=False),
        sa.Column("facts", TEXT, nullable=False),
        sa.CheckConstraint("length(period) = 7", name=op.f("ck_use_group_period_length")),
        sa.PrimaryKeyConstraint("id", name="pk_use_group"),
        sa.UniqueConstraint("period", "facts", name="uq_use_group_period_facts"),
        sqlite_strict=True,
    )


def _make_application() -> None:
    op.create_table(
        "application",
        sa.Column("id", WIDE, autoincrement=False, nullable=False),
        sa.Column("revision_id", WIDE, nullable=False),
        sa.Column("treatment", WIDE, nullable=False),
        sa.Column("line", WIDE, nullable=False),
        sa.Column("product_id", TEXT, nullable=True),
        sa.Column("product_version", WIDE, nullable=True),
        sa.Column("product_name", TEXT, nullable=True),
        sa.Column("registration", TEXT, nullable=True),
        sa.Column("federal", TEXT, nullable=True),
        sa.Column("product_kind", TEXT, nullable=True),
        sa.Column("product_type", TEXT, nullable=True),
        sa.Column("form", TEXT, nullable=True),
        sa.Column("restricted_use", WIDE, nullable=False),
        sa.Column("method", TEXT, nullable=True),
        sa.Column("site_kind", TEXT, nullable=True),
        sa.Column("rate", TEXT, nullable=True),
        sa.Column("amount", TEXT, nullable=True),
        sa.Column("amount_unit", TEXT, nullable=True),
        sa.Column("amount_nano", WIDE, nullable=True),
        sa.Column("least_nano", WIDE, nullable=True),
        sa.Column("area_nano", WIDE, nullable=True),
        sa.Column("area_source", TEXT, nullable=True),
        sa.Column("uses", WIDE, nullable=False),
        sa.Column("use_group_id", WIDE, nullable=False),
        sa.CheckConstraint("amount_nano >= 0", name=op.f("ck_application_amount_nano_range")),
        sa.CheckConstraint("area_nano >= 0", name=op.f("ck_application_area_nano_range")),
        sa.CheckConstraint("least_nano >= 0", name=op.f("ck_application_least_nano_range")),
        sa.CheckConstraint("restricted_use IN (0, 1)", name=op.f("ck_application_restricted_use_flag")),
        sa.CheckConstraint("uses >= 0", name=op.f("ck_application_uses_range")),
        sa.ForeignKeyConstraint(["revision_id"], ["revision.id"], name="fk_application_revision_id"),
        sa.ForeignKeyConstraint(["use_group_id"], ["use_group.id"], name="fk_application_use_group_id"),
        sa.PrimaryKeyConstraint("id", name="pk_application"),
        sa.UniqueConstraint("revision_id", "treatment", "line", name="uq_application_revision_id_treatment_line"),
        sqlite_strict=True,
    )
    op.create_index("ix_application_product_id_method", "application", ["product_id", "method"], unique=False)
    op.create_index(
        "ix_application_use_group",
        "application",
        ["use_group_id", "revision_id", "amount_nano", "area_nano", "uses"],
        unique=False,
    )


def _make_application_active() -> None:
    op.create_table(
        "application_active",
        sa.Column("application_id", WIDE, autoincrement=False, nullable=False),
        sa.Column("position", WIDE, autoincrement=False, nullable=False),
        sa.Column("name", TEXT, nullable=False),
        sa.Column("basis", TEXT, nullable=True),
        sa.Column("pounds_nano", WIDE, nullable=True),
        sa.CheckConstraint("pounds_nano >= 0", name=op.f("ck_application_active_pounds_nano_range")),
        sa.ForeignKeyConstraint(["application_id"], ["application.id"], name="fk_application_active_application_id"),
        sa.PrimaryKeyConstraint("application_id", "position", name="pk_application_active"),
        sqlite_strict=True,
        sqlite_with_rowid=False,
    )


def _make_application_target() -> None:
    op.create_table(
        "application_target",
        sa.Column("application_id", WIDE, autoincrement=False, nullable=False),
        sa.Column("target", TEXT, nullable=False),
        sa.ForeignKeyConstraint(["application_id"], ["application.id"], name="fk_application_target_application_id"),
        sa.PrimaryKeyConstraint("application_id", "target", name="pk_application_target"),
        sqlite_strict=True,
        sqlite_with_rowid=False,
    )


def _make_application_zone() -> None:
    op.create_table(
        "application_zone",
        sa.Column("application_id", WIDE, autoincrement=False, nullable=False),
        sa.Column("position", WIDE, autoincrement=False, nullable=False),
        sa.Column("zone_id", TEXT, nullable=False),
        sa.Column("site_id", TEXT, nullable=True),
        sa.Column("treated_nano", WIDE, nullable=True),
        sa.Column("local_date", TEXT, nullable=True),
        sa.CheckConstraint("treated_nano >= 0", name=op.f("ck_application_zone_treated_nano_range")),
        sa.ForeignKeyConstraint(["application_id"], ["application.id"], name="fk_application_zone_application_id"),
        sa.PrimaryKeyConstraint("application_id", "position", name="pk_application_zone"),
        sqlite_strict=True,
        sqlite_with_rowid=False,
    )
    op.create_index(
        "ix_application_zone_site_id_local_date", "application_zone", ["site_id", "local_date"], unique=False
    )
