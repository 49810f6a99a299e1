"""Proves a book: the chain of seals, the numbering, and every row that was derived from a sealed body."""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from sqlalchemy import bindparam, select

from records.errors import RecordsError
from records.services.ports import StoredRevision
from records.services.sealing import canonical, seal_bytes
from records.storage import tables
from records.storage.guard import missing_triggers
from records.storage.link import ZERO, Link, Prepared
from records.storage.mapping import Derived, derive, number_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from records.storage.unit_of_work import SqlBook

_A, _R, _G = tables.ApplicationRow, tables.RevisionRow, tables.UseGroupRow
_PAGE = 200
_COLUMNS = [column.name for column in _R.__table__.columns]
_PLACE = {name: place for place, name in enumerate(_COLUMNS)}
_WALK = Prepared(
    lambda: (
        select(_R.__table__).where(_R.id > bindparam("after")).order_by(_R.id).limit(bindparam("size")).offset(ZERO)
    ),
    "after",
    "size",
)
_BEFORE = Prepared(
    lambda: select(_R.id).where(_R.serial == bindparam("serial"), _R.revision == bindparam("revision")),
    "serial",
    "revision",
)
_APPLICATIONS = Prepared(
    lambda: (
        select(_A.__table__, _G.period, _G.facts)
        .outerjoin(_G, _G.id == _A.use_group_id)
        .where(_A.revision_id == bindparam("revision"))
        .order_by(_A.id)
    ),
    "revision",
)


def _children(row: type[Any]) -> Prepared:
    """Return the statement for one table's rows that belong to a revision's applications."""
    return Prepared(
        lambda: (
            select(row.__table__)
            .join(_A, _A.id == row.application_id)
            .where(_A.revision_id == bindparam("revision"))
            .order_by(*row.__table__.primary_key.columns)
        ),
        "revision",
    )


_TARGETS, _ACTIVES, _ZONES = (_children(row) for row in (tables.TargetRow, tables.ActiveRow, tables.ZoneRow))


@dataclass(slots=True)
class Report:
    """What a proof found; a book without problems is whole."""

    revisions: int = 0
    last_seal: str = ""
    problems: list[str] = field(default_factory=list)


class _Chain:
    """Walks the chain; remembers only what the next revision has to follow."""

    def __init__(self, link: Link, report: Report) -> None:
        self._link = link
        self._report = report
        self._order = 0
        self._numbers: dict[int, int] = {}

    def follow(self, row: tuple[Any, ...]) -> None:
        """Check one revision against the one before it and against its own body."""
        found = dict(zip(_COLUMNS, row, strict=True))
        name = f"{found['serial']} revision {found['revision']}"
        problems = [*self._sequence(found), *self._sealed(found), *self._derived(found, row)]
        self._report.problems.extend(f"{name}: {problem}" for problem in problems)
        self._report.revisions += 1
        self._report.last_seal = found["seal"]
        self._order = found["id"]

    def _sequence(self, found: dict[str, Any]) -> Iterator[str]:
        if found["id"] != self._order + 1:
            yield f"{found['id'] - self._order - 1} revisions sealed before it are gone"
        if found["previous"] != self._report.last_seal:
            yield "it does not follow the seal of the revision before it"
        try:
            year, number = number_of(found["serial"])
        except ValueError:
            yield "its serial is not a year and a number"
            return
        if found["revision"] == 1:
            expected = self._numbers.get(year, 0) + 1
            self._numbers[year] = max(number, expected - 1)
            if number != expected:
                yield f"the numbers of {year} have a gap: {expected} was expected"
        else:
            before = self._link.row(_BEFORE, found["serial"], found["revision"] - 1)
            if before is None or before[0] >= found["id"]:
                yield "the revision before it is gone"

    def _sealed(self, found: dict[str, Any]) -> Iterator[str]:
        text = found["body"]
        try:
            whole = canonical(json.loads(text)) == text.encode()
        except (ValueError, RecursionError, RecordsError):
            whole = False
        if not whole:
            yield "its body is not canonical JSON"
        stored = found["previous"], found["serial"], found["revision"], found["sealed_at"]
        if seal_bytes(*stored, text.encode()) != found["seal"]:
            yield "its seal does not fit: it was changed after sealing"

    def _derived(self, found: dict[str, Any], row: tuple[Any, ...]) -> Iterator[str]:
        applications = self._link.rows(_APPLICATIONS, found["id"])
        first = applications[0][0] if applications else 0
        try:
            expected = derive(_as_stored(found), found["id"], found["body"], first)
        except (ValueError, KeyError, TypeError, AttributeError, IndexError, RecordsError):
            yield "its body does not have the parts that a sealed record has"
            return
        for place, value in enumerate(expected.revision):
            if row[place] != value:
                yield f"column {_COLUMNS[place]} says {row[place]!r:.60}, but the sealed body says {value!r:.60}"
        yield from self._lines(found["id"], applications, expected)

    def _lines(self, order: int, applications: list[tuple[Any, ...]], expected: Derived) -> Iterator[str]:
        wanted = [(*line, *group) for line, group in zip(expected.applications, expected.groups, strict=True)]
        if [(*line[:-3], *line[-2:]) for line in applications] != wanted:
            yield "its applications differ from the sealed body"
        for statement, rows, what in (
            (_TARGETS, sorted(expected.targets), "targets"),
            (_ACTIVES, expected.actives, "actives"),
            (_ZONES, expected.zones, "zones"),
        ):
            if self._link.rows(statement, order) != rows:
                yield f"the {what} of its applications differ from the sealed body"


def _as_stored(found: dict[str, Any]) -> StoredRevision:
    return StoredRevision(
        found["id"],
        found["serial"],
        found["revision"],
        found["action"],
        found["sealed_at"],
        found["previous"],
        found["seal"],
        json.loads(found["body"]),
    )


def walk_chain(link: Link) -> Report:
    """Check every revision in the order of sealing, a page at a time.

    Args:
        link: an open transaction.
    """
    report, after = Report(), 0
    chain = _Chain(link, report)
    while rows := link.rows(_WALK, after, _PAGE):
        for row in rows:
            chain.follow(row)
        after = rows[-1][_PLACE["id"]]
    return report


def verify(book: SqlBook) -> Report:
    """Prove a whole book: file, protections, references, chain, numbering and derived rows.

    Args:
        book: to prove; it is only read.

    Raises:
        BookMissingError: there is no file.
        BookDamagedError: the file is not a book, or too damaged to be read at all.
    """
    with book.examine() as unit:
        link = unit.link
        assert link is not None  # noqa: S101 - entered above
        found = [f"protection {name} is gone or changed" for name in missing_triggers(link.raw)]
        found.extend(f"the file is damaged: {row[0]}" for row in link.pragma("integrity_check") if row[0] != "ok")
        found.extend(
            f"a row of {table} belongs to a row of {parent} that is gone"
            for table, _, parent, _ in link.pragma("foreign_key_check")
        )
        report = walk_chain(link)
    report.problems[:0] = found
    return report
