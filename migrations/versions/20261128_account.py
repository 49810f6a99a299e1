"""What a load, a lot and a label revision are asked for by: columns of `application`, filled from the sealed bodies."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "20261128_account"
down_revision = "20261127_server"
branch_labels = None
depends_on = None

TEXT = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
COLUMNS = ("mix_id", "lot", "label_revision")
TRIGGER = (
    "CREATE TRIGGER application_no_update BEFORE UPDATE ON application "
    "BEGIN SELECT RAISE(ABORT, 'application is append-only'); END"
)
SERVER_TRIGGER = (
    "CREATE TRIGGER application_no_update BEFORE UPDATE ON application FOR EACH ROW EXECUTE FUNCTION book_refuse()"
)
FILL = """
UPDATE application
SET mix_id = found.mix, lot = found.lot, label_revision = found.label
FROM (
    SELECT id,
        nullif(json_extract(part, '$.mix'), '') AS mix,
        nullif(json_extract(part, '$.lot'), '') AS lot,
        nullif(json_extract(part, '$.label.revision'), '') AS label
    FROM (
        SELECT a.id,
            json_extract(r.body, '$.treatments[' || a.treatment || '].applications[' || a.line || ']') AS part
        FROM application AS a JOIN revision AS r ON r.id = a.revision_id
    )
) AS found
WHERE found.id = application.id
    AND (found.mix IS NOT NULL OR found.lot IS NOT NULL OR found.label IS NOT NULL)
"""
SERVER_FILL = """
UPDATE application
SET mix_id = found.mix, lot = found.lot, label_revision = found.label
FROM (
    SELECT id,
        nullif(part ->> 'mix', '') AS mix,
        nullif(part ->> 'lot', '') AS lot,
        nullif(part #>> '{label,revision}', '') AS label
    FROM (
        SELECT a.id,
            CAST(r.body AS json) #> ARRAY['treatments', a.treatment::text, 'applications', a.line::text] AS part
        FROM application AS a JOIN revision AS r ON r.id = a.revision_id
    ) AS parts
) AS found
WHERE found.id = application.id
    AND (found.mix IS NOT NULL OR found.lot IS NOT NULL OR found.label IS NOT NULL)
"""


def upgrade() -> None:
    for name in COLUMNS:
        op.add_column("application", sa.Column(name, TEXT, nullable=True))
    is_file = op.get_context().dialect.name == "sqlite"
    op.execute("DROP TRIGGER application_no_update" + ("" if is_file else " ON application"))
    op.execute(FILL if is_file else SERVER_FILL)
    op.execute(TRIGGER if is_file else SERVER_TRIGGER)
    op.create_index(
        "ix_application_mix",
        "application",
        ["mix_id", "revision_id"],
        unique=False,
        sqlite_where=sa.text("mix_id IS NOT NULL"),
        postgresql_where=sa.text("mix_id IS NOT NULL"),
    )


def downgrade() -> None:
    op.drop_index("ix_application_mix", table_name="application")
    for name in reversed(COLUMNS):
        op.execute(f"ALTER TABLE application DROP COLUMN {name}")
