"""Everything in a book, read in its order and put into another one; texts as they are stored, row seals made anew."""

from __future__ import annotations

from heapq import merge
from typing import TYPE_CHECKING, Any

from sqlalchemy import bindparam, func, select

from records.errors import BookDamagedError, StorageError
from records.services.moving.ports import CatalogueVersion, Extent, HeldEvent
from records.services.ports import RemovedRow
from records.storage.integrity import walk_chain
from records.storage.link import ONE, ZERO, Prepared
from records.storage.rowseal import row_seal
from records.storage.tables import CatalogueRow, HeldEventRow, RevisionRow
from records.storage.tables import RemovedRow as StubRow

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from records.services.ports import StoredRevision
    from records.storage.link import Link
    from records.storage.repository import SqlRecords

_PAGE = 200
_C, _H, _D = CatalogueRow, HeldEventRow, StubRow


def _last(number: Any, seal: Any) -> Prepared:  # noqa: ANN401 - mapped columns of any row
    return Prepared(lambda: select(number, seal).order_by(number.desc()).limit(ONE).offset(ZERO))


def _paged(number: Any, *columns: Any) -> Prepared:  # noqa: ANN401 - mapped columns of any row
    return Prepared(
        lambda: (
            select(number, *columns)
            .where(number > bindparam("after"))
            .order_by(number)
            .limit(bindparam("size"))
            .offset(ZERO)
        ),
        "after",
        "size",
    )


def _counted(row: Any) -> Prepared:  # noqa: ANN401 - any row
    return Prepared(lambda: select(func.count()).select_from(row))


_COUNTS = tuple(_counted(row) for row in (RevisionRow, StubRow, CatalogueRow, HeldEventRow))
_LAST_CATALOGUE, _LAST_HELD = _last(_C.number, _C.seal), _last(_H.id, _H.seal)
_STUBS = _paged(_D.id, _D.serial, _D.revision, _D.seal, _D.event_serial)
_CATALOGUE = _paged(_C.number, _C.kind, _C.id, _C.version, _C.loaded_at, _C.body)
_HELD = _paged(
    _H.id, _H.number, _H.seq, _H.kind, _H.at, _H.ref, _H.person, _H.reason, _H.serial, _H.document, _H.findings
)
_VERSION = Prepared(
    lambda: select(func.coalesce(func.max(_C.version), ZERO)).where(
        _C.kind == bindparam("kind"), _C.id == bindparam("id")
    ),
    "kind",
    "id",
)
_SEQ = Prepared(lambda: select(func.coalesce(func.max(_H.seq), ZERO)).where(_H.number == bindparam("number")), "number")


class SqlMoving:
    """Everything in one book, within one transaction."""

    def __init__(self, link: Link, records: SqlRecords) -> None:
        """Work on one transaction.

        Args:
            link: its connection.
            records: the sealed revisions of the same transaction.
        """
        self._link = link
        self._records = records

    def extent(self) -> Extent:
        """Return how much the book holds."""
        counts = [int(self._link.row(statement)[0]) for statement in _COUNTS]
        seals = [(self._link.row(statement) or (0, ""))[1] for statement in (_LAST_CATALOGUE, _LAST_HELD)]
        return Extent(counts[0], counts[1], counts[2], counts[3], self._records.head(), *seals)

    def _pages(self, statement: Prepared) -> Iterator[tuple[Any, ...]]:
        after = 0
        while rows := self._link.rows(statement, after, _PAGE):
            yield from rows
            after = rows[-1][0]

    def chain(self) -> Iterator[StoredRevision | RemovedRow]:
        """Yield revisions and stubs in the order of sealing, without holding them all in memory.

        Raises:
            BookDamagedError: a sealed body is not JSON any more.
        """
        stubs: Iterable[StoredRevision | RemovedRow] = map(RemovedRow._make, self._pages(_STUBS))
        order = 0
        try:
            for link in merge(self._records.walk(), stubs, key=lambda one: one.order):
                yield link
                order = link.order
        except (ValueError, RecursionError) as error:
            where = f"{self._link.where}, after place {order} in the order of sealing"
            raise BookDamagedError(
                f"a sealed body of the book {where}, cannot be read", "See what verify says, or restore a backup"
            ) from error

    def catalogue(self) -> Iterator[CatalogueVersion]:
        """Yield all versions of all documents in the order of loading."""
        for row in self._pages(_CATALOGUE):
            yield CatalogueVersion._make(row[1:])

    def held(self) -> Iterator[HeldEvent]:
        """Yield all that happened to refused visits, in order."""
        for row in self._pages(_HELD):
            yield HeldEvent._make(row[1:])

    def put_catalogue(self, version: CatalogueVersion) -> None:
        """Store a version after the last one.

        Raises:
            StorageError: it is not the next version of its document, or the book refused it.
        """
        last = int(self._link.row(_VERSION, version.kind, version.id)[0])
        if version.version != last + 1:
            raise StorageError(f"version {last + 1} of {version.kind} {version.id} should come first", "")
        number, seal = self._link.row(_LAST_CATALOGUE) or (0, "")
        mark = row_seal(seal, (number + 1, *version))
        self._link.add(CatalogueRow, [(*version[:3], number + 1, version.loaded_at, mark, version.body)])

    def put_held(self, event: HeldEvent) -> None:
        """Store an event after the last one.

        Raises:
            StorageError: it is not the next of its entry, or the book refused it.
        """
        last = int(self._link.row(_SEQ, event.number)[0])
        if event.seq != last + 1:
            raise StorageError(f"event {last + 1} of {event.number} should come first", "")
        number, seal = self._link.row(_LAST_HELD) or (0, "")
        mark = row_seal(seal, (number + 1, *event))
        self._link.add(HeldEventRow, [(number + 1, *event[:8], mark, *event[8:])])

    def put_stub(self, stub: RemovedRow) -> None:
        """Store a stub as the next link of the chain.

        Raises:
            StorageError: another place is the next one, or the book refused it.
        """
        self._records.pass_over(stub.order, stub.seal)
        self._link.add(StubRow, [tuple(stub)])

    def problems(self) -> Sequence[str]:
        """Prove the chain and all that was derived from it, and return what is wrong."""
        return walk_chain(self._link).problems
