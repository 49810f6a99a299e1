"""Proves a book: the chain of seals, the numbering, and every row that was derived from a sealed body.

What was removed with its year has left stubs in the chain. They are followed like revisions, and the sealed removal
after them has to say exactly what they say together.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from heapq import merge
from typing import TYPE_CHECKING, Any

from sqlalchemy import bindparam, select

from records.errors import RecordsError
from records.services.ports import StoredRevision
from records.services.sealing import canonical, seal_bytes
from records.storage import tables
from records.storage.guard import missing_triggers
from records.storage.link import ZERO, Link, Prepared
from records.storage.mapping import Derived, derive, number_of
from records.storage.removal import StubSum, says

if TYPE_CHECKING:
    from collections.abc import Iterator

    from records.storage.unit_of_work import SqlBook

_A, _R, _G = tables.ApplicationRow, tables.RevisionRow, tables.UseGroupRow
_PAGE = 200
_COLUMNS = [column.name for column in _R.__table__.columns]


def _walking(row: type[Any]) -> Prepared:
    """Return the statement for a page of a table in the order of sealing."""
    return Prepared(
        lambda: (
            select(row.__table__)
            .where(row.id > bindparam("after"))
            .order_by(row.id)
            .limit(bindparam("size"))
            .offset(ZERO)
        ),
        "after",
        "size",
    )


_WALK, _WALK_STUBS = _walking(_R), _walking(tables.RemovedRow)
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
    removed: int = 0  # records of which only stubs are left
    last_seal: str = ""
    problems: list[str] = field(default_factory=list)


@dataclass(slots=True)
class _Removal:
    """The stubs of one removal so far."""

    first: str  # name of the first
    stubs: StubSum = field(default_factory=StubSum)


class _Chain:
    """Walks the chain; remembers only what the next revision has to follow."""

    def __init__(self, link: Link, report: Report) -> None:
        self._link = link
        self._report = report
        self._order = 0
        self._numbers: dict[int, int] = {}
        self._removals: dict[str, _Removal] = {}  # whose sealed event is still to come

    def follow(self, row: tuple[Any, ...]) -> None:
        """Check one revision against the one before it and against its own body."""
        found = dict(zip(_COLUMNS, row, strict=True))
        name = f"{found['serial']} revision {found['revision']}"
        problems = [*self._sequence(found), *self._sealed(found), *self._derived(found, row)]
        self._report.problems.extend(f"{name}: {problem}" for problem in problems)
        self._report.revisions += 1
        self._pass(found["id"], found["seal"])

    def follow_stub(self, row: tuple[Any, ...]) -> None:
        """Check what is left of one removed revision; what seals it comes later."""
        order, serial, revision, seal, event = row
        name = f"{serial} revision {revision} (removed)"
        self._report.problems.extend(f"{name}: {problem}" for problem in self._place(order, serial, revision))
        self._report.removed += revision == 1
        self._removals.setdefault(event, _Removal(name)).stubs.add(order, serial, revision, seal)
        self._pass(order, seal)

    def finish(self) -> None:
        """Name what was removed without a sealed removal after it."""
        for event, removal in self._removals.items():
            self._report.problems.append(
                f"{removal.first}: no sealed removal {event} after it says that it was removed"
                f" ({removal.stubs.count} revisions)"
            )

    def _pass(self, order: int, seal: str) -> None:
        self._report.last_seal = seal
        self._order = max(order, self._order)

    def _place(self, order: int, serial: str, revision: int) -> Iterator[str]:
        """Check the order of sealing and, of a first revision, the numbering."""
        if order <= self._order:
            yield "its place in the order of sealing is taken"
        elif order > self._order + 1:
            yield f"{order - self._order - 1} revisions sealed before it are gone"
        try:
            year, number = number_of(serial)
        except ValueError:
            yield "its serial is not a year and a number"
            return
        if revision == 1:
            expected = self._numbers.get(year, 0) + 1
            self._numbers[year] = max(number, expected - 1)
            if number != expected:
                yield f"the numbers of {year or 'events'} have a gap: {expected} was expected"

    def _sequence(self, found: dict[str, Any]) -> Iterator[str]:
        yield from self._place(found["id"], found["serial"], found["revision"])
        if found["previous"] != self._report.last_seal:
            yield "it does not follow the seal of the revision before it"
        if found["kind"] == "event" and found["origin"] == "removal":
            yield from self._removal(found)
        if found["revision"] != 1:
            before = self._link.row(_BEFORE, found["serial"], found["revision"] - 1)
            if before is None or before[0] >= found["id"]:
                yield "the revision before it is gone"

    def _removal(self, found: dict[str, Any]) -> Iterator[str]:
        """Check that a sealed removal says what its stubs say together."""
        stubs = self._removals.pop(found["serial"], _Removal("")).stubs
        try:
            body = json.loads(found["body"])
            year = body["data"]["year"]
        except (ValueError, KeyError, TypeError, RecursionError):
            body, year = None, 0
        if not says(body, year, stubs.result()) or stubs.years != {year}:
            yield f"what is left of the {stubs.count} revisions removed with it was changed, added to or taken from"

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
    report = Report()
    chain = _Chain(link, report)
    revisions = ((row, chain.follow) for row in _pages(link, _WALK))
    stubs = ((row, chain.follow_stub) for row in _pages(link, _WALK_STUBS))
    for row, follow in merge(revisions, stubs, key=lambda one: one[0][0]):
        follow(row)
    chain.finish()
    return report


def _pages(link: Link, statement: Prepared) -> Iterator[tuple[Any, ...]]:
    """Yield a table's rows in the order of sealing, a page at a time."""
    after = 0
    while rows := link.rows(statement, after, _PAGE):
        yield from rows
        after = rows[-1][0]


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
