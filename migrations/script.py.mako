"""${message}.

A book is one file that only ever grows, so:
- write triggers as literal SQL, and make those of a table again after a batch rebuild, which drops them;
- rename a CHECK when its text changes: comparison sees names only;
- fill nothing in: what was sealed cannot be changed, and what is derived from it can be derived again;
- add the revision to `VERSIONS` in records/storage/schema.py.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op
${imports if imports else ""}
revision = ${repr(up_revision)}
down_revision = ${repr(down_revision)}
branch_labels = ${repr(branch_labels)}
depends_on = ${repr(depends_on)}


def upgrade() -> None:
    ${upgrades if upgrades else "pass"}


def downgrade() -> None:
    ${downgrades if downgrades else "pass"}
