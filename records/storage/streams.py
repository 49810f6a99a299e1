"""Rows of several tables side by side, each read once in the order of its key: what proves a book without asking anew.

A book as it was made keeps applications, and all that belongs to them, in the order of sealing. A row that stands out
of that order was moved there by someone; it is passed over and counted, and the record that misses it is named.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from sqlalchemy import select

from records.storage import tables
from records.storage.link import Prepared

if TYPE_CHECKING:
    from collections.abc import Generator
    from typing import Self

    from records.storage.link import Link

_A, _G = tables.ApplicationRow, tables.UseGroupRow
_APPLICATIONS = Prepared(
    lambda: select(_A.__table__, _G.period, _G.facts).outerjoin(_G, _G.id == _A.use_group_id).order_by(_A.id)
)


def _in_order(row: type[Any]) -> Prepared:
    return Prepared(lambda: select(row.__table__).order_by(*row.__table__.primary_key.columns))


_TARGETS, _ACTIVES, _ZONES = (_in_order(row) for row in (tables.TargetRow, tables.ActiveRow, tables.ZoneRow))


class Stream:
    """The rows of one table, taken key by key."""

    def __init__(self, rows: Generator[tuple[Any, ...]], place: int) -> None:
        """Begin.

        Args:
            rows: in the order of the key.
            place: of the key in a row.
        """
        self._rows = rows
        self._place = place
        self._next = next(rows, None)
        self.passed = 0  # rows that no one asked for

    def take(self, key: int) -> list[tuple[Any, ...]]:
        """Return the rows of a key, passing over those of smaller ones."""
        found: list[tuple[Any, ...]] = []
        row, place = self._next, self._place
        while row is not None and row[place] <= key:
            if row[place] == key:
                found.append(row)
            else:
                self.passed += 1
            row = next(self._rows, None)
        self._next = row
        return found

    def finish(self) -> int:
        """Return how many rows no one asked for, up to the last."""
        while self._next is not None:
            self.passed += 1
            self._next = next(self._rows, None)
        return self.passed

    def close(self) -> None:
        """Let go of the database; it must still be open."""
        self._rows.close()


class Streams:
    """All that was derived from sealed bodies, for a `with`."""

    def __init__(self, link: Link) -> None:
        """Begin to read; the transaction has to stay open."""
        self.applications = Stream(link.iterate(_APPLICATIONS), 1)
        self.targets = Stream(link.iterate(_TARGETS), 0)
        self.actives = Stream(link.iterate(_ACTIVES), 0)
        self.zones = Stream(link.iterate(_ZONES), 0)

    def __enter__(self) -> Self:
        """Begin."""
        return self

    def __exit__(self, *_: object) -> None:
        """Let go of the database."""
        for stream in (self.applications, self.targets, self.actives, self.zones):
            stream.close()
