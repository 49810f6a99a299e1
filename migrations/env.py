"""What Alembic runs: the connection comes from the caller (`records/storage/migrate.py`), already in a transaction."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Literal

from alembic import context
from sqlalchemy import Integer, Text, TypeDecorator

from records.storage import tables  # noqa: F401 - fills the metadata
from records.storage.base import Base
from records.storage.engine import make_engine

if TYPE_CHECKING:
    from alembic.autogenerate.api import AutogenContext
    from sqlalchemy import Connection


def render_item(kind: str, item: Any, _: AutogenContext) -> str | Literal[False]:  # noqa: ANN401 - Alembic's hook
    """Write types of our own as the plain types they are stored as: scripts must not depend on code that moves."""
    if kind == "type" and isinstance(item, TypeDecorator):
        plain = item.impl_instance
        if isinstance(plain, Text):
            return "sa.Text()"
        if isinstance(plain, Integer):
            return "sa.Integer()"
    return False


def run(connection: Connection) -> None:
    """Run what Alembic was asked for on one connection."""
    context.configure(
        connection=connection,
        target_metadata=Base.metadata,
        render_as_batch=True,
        render_item=render_item,
        compare_type=True,
        compare_server_default=True,
        transactional_ddl=True,
        autogenerate_plugins=["alembic.autogenerate.*", "alembic.ext.checkconstraint_byname"],
    )
    with context.begin_transaction():
        context.run_migrations()


given = context.config.attributes.get("connection")
if given is not None:
    run(given)
else:
    # A developer's own `alembic revision --autogenerate -x book=FILE`, on a scratch book.
    book = context.get_x_argument(as_dictionary=True).get("book")
    if not book:
        message = "name a scratch book: alembic -x book=FILE ..."
        raise SystemExit(message)
    with make_engine(book, for_migration=True).begin() as connection:
        run(connection)
