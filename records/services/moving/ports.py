"""What moving a whole book needs of storage: everything as it is kept, in its order, texts untouched."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple, Protocol

from records.services.ports import UnitOfWork

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from records.services.ports import RemovedRow, StoredRevision


class CatalogueVersion(NamedTuple):
    """One version of a loaded document, its body as the canonical JSON that is stored."""

    kind: str
    id: str
    version: int
    loaded_at: str
    body: str


class HeldEvent(NamedTuple):
    """One thing that happened to a refused visit; document and findings as the JSON that is stored."""

    number: str
    seq: int
    kind: str
    at: str
    ref: str | None
    person: str | None
    reason: str
    serial: str | None
    document: str
    findings: str


class Extent(NamedTuple):
    """How much a book holds, and the last seal of each of its three chains."""

    revisions: int
    removed: int  # revisions of which only stubs are left
    catalogue: int
    held: int
    last_seal: str
    catalogue_seal: str
    held_seal: str

    @property
    def is_empty(self) -> bool:
        """Return whether nothing was ever put into the book."""
        return not (self.revisions or self.removed or self.catalogue or self.held)


class Moving(Protocol):
    """Everything in a book, read in order and put into another one."""

    def extent(self) -> Extent:
        """Return how much the book holds."""

    def chain(self) -> Iterator[StoredRevision | RemovedRow]:
        """Yield revisions and stubs in the order of sealing, without holding them all in memory."""

    def catalogue(self) -> Iterator[CatalogueVersion]:
        """Yield all versions of all documents in the order of loading."""

    def held(self) -> Iterator[HeldEvent]:
        """Yield all that happened to refused visits, in order."""

    def put_catalogue(self, version: CatalogueVersion) -> None:
        """Store a version after the last one."""

    def put_held(self, event: HeldEvent) -> None:
        """Store an event after the last one."""

    def put_stub(self, stub: RemovedRow) -> None:
        """Store a stub as the next link of the chain."""

    def problems(self) -> Sequence[str]:
        """Prove the chain and all that was derived from it, and return what is wrong."""


class MovingUnit(UnitOfWork, Protocol):
    """A unit of work that can move a whole book."""

    @property
    def moving(self) -> Moving:
        """Return what moves a whole book, within this transaction."""


class MovingBook(Protocol):
    """Opens such units of work."""

    def write(self) -> MovingUnit:
        """Return a unit of work that may write."""

    def read(self) -> MovingUnit:
        """Return a unit of work that cannot write."""
