"""Proves a book: protections, file, references, chain of seals, numbering, and every row derived from a sealed body."""

from __future__ import annotations

from heapq import merge
from typing import TYPE_CHECKING, Any

from sqlalchemy import bindparam, func, select

from records.storage import tables
from records.storage.base import Base
from records.storage.chain import Chain, Report
from records.storage.guard import unprotected
from records.storage.link import ZERO, Prepared
from records.storage.rowseal import CATALOGUE, HELD, row_seal
from records.storage.streams import Streams

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from records.storage.link import Link
    from records.storage.unit_of_work import SqlBook

__all__ = ["Report", "verify", "walk_chain"]

_A, _G = tables.ApplicationRow, tables.UseGroupRow
_PAGE = 200


def _walking(row: type[Any], key: Any) -> Prepared:  # noqa: ANN401 - a mapped column of any row
    """Return the statement for a page of a table in the order of a number."""
    return Prepared(
        lambda: (
            select(row.__table__).where(key > bindparam("after")).order_by(key).limit(bindparam("size")).offset(ZERO)
        ),
        "after",
        "size",
    )


_WALK = _walking(tables.RevisionRow, tables.RevisionRow.id)
_WALK_STUBS = _walking(tables.RemovedRow, tables.RemovedRow.id)
_WALK_CATALOGUE = _walking(tables.CatalogueRow, tables.CatalogueRow.number)
_WALK_HELD = _walking(tables.HeldEventRow, tables.HeldEventRow.id)
_IDLE_GROUPS = Prepared(
    lambda: select(func.count()).select_from(_G).where(~select(_A.id).where(_A.use_group_id == _G.id).exists())
)


def _dangling(column: Any, parent: Any) -> Prepared:  # noqa: ANN401 - columns of any rows
    there = select(parent).where(parent == column).exists()
    return Prepared(lambda: select(func.count()).select_from(column.table).where(column.is_not(None), ~there))


# child table, parent table, the statement that counts the rows whose parent is gone
_REFERENCES = [
    (table.name, key.column.table.name, _dangling(key.parent, key.column))
    for table in Base.metadata.sorted_tables
    for key in sorted(table.foreign_keys, key=lambda one: one.parent.name)
]


def _pages(link: Link, statement: Prepared, place: int = 0) -> Iterator[tuple[Any, ...]]:
    """Yield a table's rows in the order of a number, a page at a time."""
    after = 0
    while rows := link.rows(statement, after, _PAGE):
        yield from rows
        after = rows[-1][place]


def walk_chain(link: Link, sought: Iterable[str] = ()) -> Report:
    """Check every revision in the order of sealing.

    Args:
        link: an open transaction.
        sought: seals to look for on the way.
    """
    report = Report()
    with Streams(link) as streams:
        chain = Chain(link, streams, report, frozenset(sought))
        revisions = ((row, chain.follow) for row in _pages(link, _WALK))
        stubs = ((row, chain.follow_stub) for row in _pages(link, _WALK_STUBS))
        for row, follow in merge(revisions, stubs, key=lambda one: one[0][0]):
            follow(row)
        chain.finish()
    return report


def _row_seals(link: Link, row: type[Any], statement: Prepared, names: tuple[str, ...], what: str) -> Iterator[str]:
    """Check the seals over the rows of a table, each with the one before it."""
    columns = [column.name for column in row.__table__.columns]
    places = [columns.index(name) for name in names]
    counter, seal = places[0], columns.index("seal")
    previous, last = "", 0
    for found in _pages(link, statement, counter):
        name = f"{what} {found[counter]}"
        if found[counter] != last + 1:
            yield f"{name}: {found[counter] - last - 1} rows before it are gone"
        if row_seal(previous, (found[place] for place in places)) != found[seal]:
            yield f"{name}: it, or the row before it, was changed after it was kept"
        previous, last = found[seal], found[counter]


def _references(link: Link) -> Iterator[str]:
    for child, parent, statement in _REFERENCES:
        if count := link.row(statement)[0]:
            yield f"{count} rows of {child} belong to rows of {parent} that are gone"


def _beside(link: Link) -> Iterator[str]:
    """Yield what is wrong beside the chain of records."""
    yield from (f"protection {name} is gone or changed" for name in unprotected(link))
    if not link.is_server:
        yield from (f"the file is damaged: {row[0]}" for row in link.pragma("integrity_check") if row[0] != "ok")
    yield from _references(link)
    if idle := link.row(_IDLE_GROUPS)[0]:
        yield f"{idle} rows of use_group belong to no application"
    yield from _row_seals(link, tables.CatalogueRow, _WALK_CATALOGUE, CATALOGUE, "catalogue row")
    yield from _row_seals(link, tables.HeldEventRow, _WALK_HELD, HELD, "held event")


def verify(book: SqlBook, sought: Iterable[str] = ()) -> Report:
    """Prove a whole book.

    Args:
        book: to prove; it is only read.
        sought: seals to look for, in full and in small letters; the report says whose they are.

    Raises:
        BookMissingError: there is no book.
        BookDamagedError: the file is not a book, or too damaged to be read at all.
    """
    with book.examine() as unit:
        link = unit.link
        assert link is not None  # noqa: S101 - entered above
        found = list(_beside(link))
        report = walk_chain(link, sought)
    report.problems[:0] = found
    return report
