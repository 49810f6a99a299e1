"""Follows the chain of seals, and compares what was derived from each sealed body with the body.

What was removed with its year has left stubs in the chain. They are followed like revisions, and the sealed removal
after them has to say exactly what they say together.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from sqlalchemy import bindparam, select

from records.errors import RecordsError
from records.services.ports import StoredRevision
from records.services.sealing import canonical, seal_bytes
from records.services.stubs import StubSum, says
from records.storage import tables
from records.storage.link import Prepared
from records.storage.mapping import Derived, derive, number_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from records.storage.link import Link
    from records.storage.streams import Streams

_R = tables.RevisionRow
COLUMNS = [column.name for column in _R.__table__.columns]
_APPLICATION = [column.name for column in tables.ApplicationRow.__table__.columns]
_PLACE = {name: place for place, name in enumerate(COLUMNS)}
_ID, _SERIAL, _REVISION, _KIND = (_PLACE[name] for name in ("id", "serial", "revision", "kind"))
_SEALED_AT, _PREVIOUS, _SEAL = (_PLACE[name] for name in ("sealed_at", "previous", "seal"))
_ACTION, _ORIGIN, _BODY = (_PLACE[name] for name in ("action", "origin", "body"))
_BEFORE = Prepared(
    lambda: select(_R.id).where(_R.serial == bindparam("serial"), _R.revision == bindparam("revision")),
    "serial",
    "revision",
)


@dataclass(slots=True)
class Report:
    """What a proof found; a book without problems is whole."""

    revisions: int = 0
    removed: int = 0  # records of which only stubs are left
    removed_revisions: int = 0  # their revisions
    last_seal: str = ""
    problems: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)  # what is worth saying, and wrong with the clock, not with the book
    found: dict[str, tuple[str, int]] = field(default_factory=dict)  # asked-for seal: whose it is, sealed how many-th


@dataclass(slots=True)
class _Removal:
    """The stubs of one removal so far."""

    first: str  # name of the first
    stubs: StubSum = field(default_factory=StubSum)


class Chain:
    """Walks the chain; remembers only what the next revision has to follow."""

    def __init__(self, link: Link, streams: Streams, report: Report, sought: frozenset[str] = frozenset()) -> None:
        """Begin.

        Args:
            link: an open transaction.
            streams: the derived rows.
            report: to write to.
            sought: seals to look for.
        """
        self._link = link
        self._streams = streams
        self._report = report
        self._sought = sought
        self._order = 0
        self._count = 0
        self._sealed_at = ""
        self._numbers: dict[int, int] = {}
        self._removals: dict[str, _Removal] = {}  # whose sealed event is still to come

    def follow(self, row: tuple[Any, ...]) -> None:
        """Check one revision against the one before it and against its own body."""
        try:
            body = json.loads(row[_BODY])
        except (ValueError, RecursionError):
            body = None
        problems = [*self._sequence(row, body), *self._sealed(row, body), *self._derived(row, body)]
        if problems:
            name = f"{row[_SERIAL]} revision {row[_REVISION]}"
            self._report.problems.extend(f"{name}: {problem}" for problem in problems)
        self._report.revisions += 1
        self._clock(row)
        self._pass(row[_ID], row[_SERIAL], row[_REVISION], row[_SEAL])

    def follow_stub(self, row: tuple[Any, ...]) -> None:
        """Check what is left of one removed revision; what seals it comes later."""
        order, serial, revision, seal, event = row
        name = f"{serial} revision {revision} (removed)"
        self._report.problems.extend(f"{name}: {problem}" for problem in self._place(order, serial, revision))
        self._report.removed += revision == 1
        self._report.removed_revisions += 1
        self._removals.setdefault(event, _Removal(name)).stubs.add(order, serial, revision, seal)
        self._pass(order, serial, revision, seal)

    def finish(self) -> None:
        """Name what was removed without a sealed removal after it, and rows that belong to no sealed body."""
        for event, removal in self._removals.items():
            self._report.problems.append(
                f"{removal.first}: no sealed removal {event} after it says that it was removed"
                f" ({removal.stubs.count} revisions)"
            )
        for name in ("applications", "targets", "actives", "zones"):
            if passed := getattr(self._streams, name).finish():
                self._report.problems.append(
                    f"{counted(passed, 'row')} of {name} too many: no sealed body puts anything there"
                )

    def _pass(self, order: int, serial: str, revision: int, seal: str) -> None:
        self._report.last_seal = seal
        self._order = max(order, self._order)
        self._count += 1
        if seal in self._sought:
            self._report.found[seal] = f"{serial} revision {revision}", self._count

    def _clock(self, row: tuple[Any, ...]) -> None:
        """Note a revision sealed by a clock that stood before the last seal: it was set back, or ahead before."""
        if row[_SEALED_AT] < self._sealed_at:
            name = f"{row[_SERIAL]} revision {row[_REVISION]}"
            self._report.notes.append(
                f"{name}: sealed at {row[_SEALED_AT]}, before the one sealed before it ({self._sealed_at}):"
                " a clock was set back"
            )
        self._sealed_at = row[_SEALED_AT]

    def _place(self, order: int, serial: str, revision: int) -> Iterator[str]:
        """Check the order of sealing and, of a first revision, the numbering."""
        if order <= self._order:
            yield "its place in the order of sealing is taken"
        elif order > self._order + 1:
            gone = order - self._order - 1
            yield f"{counted(gone, 'revision')} sealed before it {'is' if gone == 1 else 'are'} gone"
        try:
            year, number = number_of(serial)
        except ValueError:
            yield "its serial is not a year and a number"
            return
        if revision == 1:
            expected = self._numbers.get(year, 0) + 1
            self._numbers[year] = max(number, expected - 1)
            if number != expected:
                yield f"the numbers of {year or 'events'} have a gap: {_missing(year, expected, number)}"

    def _sequence(self, row: tuple[Any, ...], body: Any) -> Iterator[str]:  # noqa: ANN401 - as it stands
        yield from self._place(row[_ID], row[_SERIAL], row[_REVISION])
        if row[_PREVIOUS] != self._report.last_seal:
            yield "it does not follow the seal of the revision before it"
        if row[_KIND] == "event" and row[_ORIGIN] == "removal":
            yield from self._removal(row[_SERIAL], body)
        if row[_REVISION] != 1:
            before = self._link.row(_BEFORE, row[_SERIAL], row[_REVISION] - 1)
            if before is None or before[0] >= row[_ID]:
                yield "the revision before it is gone"

    def _removal(self, serial: str, body: Any) -> Iterator[str]:  # noqa: ANN401 - as it stands
        """Check that a sealed removal says what its stubs say together."""
        stubs = self._removals.pop(serial, _Removal("")).stubs
        try:
            year = body["data"]["year"]
        except (KeyError, TypeError):
            body, year = None, 0
        if not says(body, year, stubs.result()) or stubs.years != {year}:
            yield f"what is left of the {stubs.count} revisions removed with it was changed, added to or taken from"

    def _sealed(self, row: tuple[Any, ...], body: Any) -> Iterator[str]:  # noqa: ANN401 - as it stands
        text = row[_BODY].encode()
        try:
            whole = canonical(body) == text
        except (ValueError, RecursionError, RecordsError):
            whole = False
        if not whole:
            yield "its body is not canonical JSON"
        if seal_bytes(row[_PREVIOUS], row[_SERIAL], row[_REVISION], row[_SEALED_AT], text) != row[_SEAL]:
            yield "its seal does not fit: it was changed after sealing"

    def _derived(self, row: tuple[Any, ...], body: Any) -> Iterator[str]:  # noqa: ANN401 - as it stands
        applications = self._streams.applications.take(row[_ID])
        first = applications[0][0] if applications else 0
        try:
            stored = StoredRevision(
                row[_ID], row[_SERIAL], row[_REVISION], row[_ACTION], row[_SEALED_AT], row[_PREVIOUS], row[_SEAL], body
            )
            expected = derive(stored, row[_ID], row[_BODY], first)
        except (ValueError, KeyError, TypeError, AttributeError, IndexError, RecordsError):
            for line in applications:
                self._children(line[0])
            yield "its body does not have the parts that a sealed record has"
            return
        if expected.revision != row:
            for place, value in enumerate(expected.revision):
                if row[place] != value:
                    yield f"column {COLUMNS[place]} says {row[place]!r:.60}, but the sealed body says {value!r:.60}"
        yield from self._lines(applications, expected)

    def _lines(self, applications: list[tuple[Any, ...]], expected: Derived) -> Iterator[str]:
        wanted = [(*line, *group) for line, group in zip(expected.applications, expected.groups, strict=True)]
        found = [(*line[:-3], *line[-2:]) for line in applications]
        if found != wanted:
            yield f"its applications differ from the sealed body{_first_difference(found, wanted)}"
        rows: tuple[list[Any], list[Any], list[Any]] = ([], [], [])
        for line in applications:
            for place, children in enumerate(self._children(line[0])):
                rows[place].extend(children)
        # In whatever order: a server sorts texts by other rules than the body keeps them
        if sorted(rows[0]) != sorted(expected.targets):
            yield "the targets of its applications differ from the sealed body"
        if rows[1] != expected.actives:
            yield "the actives of its applications differ from the sealed body"
        if rows[2] != expected.zones:
            yield "the zones of its applications differ from the sealed body"

    def _children(self, application: int) -> tuple[list[Any], list[Any], list[Any]]:
        streams = self._streams
        return streams.targets.take(application), streams.actives.take(application), streams.zones.take(application)


def _missing(year: int, expected: int, number: int) -> str:
    """Name the serials that a gap leaves out."""
    name = f"{year}-{{:06d}}" if year else "E-{:06d}"
    if number <= expected:
        return f"{name.format(expected)} was expected"
    if number == expected + 1:
        return f"{name.format(expected)} is missing"
    return f"{name.format(expected)} to {name.format(number - 1)} are missing"


def counted(count: int, word: str) -> str:
    """Return a number with its word, in the plural where it has to be."""
    return f"{count:,} {word}{'' if count == 1 else 's'}"


def _first_difference(found: list[tuple[Any, ...]], wanted: list[tuple[Any, ...]]) -> str:
    """Name the first value of a line that differs; "" where the lines themselves are others."""
    names = [*_APPLICATION[:-1], "period", "facts"]
    if len(found) != len(wanted):
        return f": {len(found)} lines, not {len(wanted)}"
    for line, (one, other) in enumerate(zip(found, wanted, strict=True), 1):
        for name, has, should in zip(names, one, other, strict=True):
            if has != should:
                return f": line {line}, column {name} says {has!r:.60}, not {should!r:.60}"
    return ""
