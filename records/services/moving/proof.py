"""Proves a chain from its lines alone: every seal, the numbering, and that nothing but sealed removals left gaps."""

from __future__ import annotations

from array import array
from typing import TYPE_CHECKING, Any

from records.errors import InputError
from records.services.sealing import seal_bytes
from records.services.stubs import StubSum, numbered, says

if TYPE_CHECKING:
    from records.services.ports import RemovedRow, StoredRevision


class ChainProof:
    """Follows a chain; remembers of each record no more than how many revisions it has."""

    def __init__(self) -> None:
        self.revisions = 0
        self.removed = 0
        self.last_seal = ""
        self._last: dict[int, array[int]] = {}  # by year, the last revision of each number
        self._removals: dict[str, StubSum] = {}  # by the serial of the event that is still to come

    @property
    def order(self) -> int:
        """Return how many-th the last link was sealed."""
        return self.revisions + self.removed

    def follow(self, revision: StoredRevision) -> None:
        """Prove that a revision is the next link.

        Raises:
            InputError: it is not, or its seal does not fit.
        """
        if revision.previous != self.last_seal:
            raise InputError("it does not follow the seal of the revision before it")
        name = revision.previous, revision.serial, revision.revision, revision.sealed_at
        if seal_bytes(*name, revision.text.encode()) != revision.seal:
            raise InputError("its seal does not fit: it was changed after sealing")
        self._place(revision.serial, revision.revision)
        body = revision.body
        if body.get("kind") == "event" and _kind_of(body.get("origin")) == "removal":
            self._removal(revision.serial, body)
        self.revisions += 1
        self.last_seal = revision.seal

    def follow_stub(self, stub: RemovedRow) -> None:
        """Prove that a stub stands at the next place; what seals it comes later.

        Raises:
            InputError: it does not.
        """
        if stub.order != self.order + 1:
            raise InputError(f"its place in the order of sealing is {stub.order}, not {self.order + 1}")
        self._place(stub.serial, stub.revision)
        self._removals.setdefault(stub.event, StubSum()).add(*stub[:4])
        self.removed += 1
        self.last_seal = stub.seal

    def finish(self) -> None:
        """Prove that the chain is complete.

        Raises:
            InputError: revisions were removed without a sealed removal after them.
        """
        for event, stubs in self._removals.items():
            raise InputError(f"no sealed removal {event} says that {stubs.count} revisions were removed")

    def _place(self, serial: str, revision: int) -> None:
        place = numbered(serial)
        if place is None:
            raise InputError("its serial is not a year and a number")
        year, number = place
        last = self._last.setdefault(year, array("L"))
        if revision == 1:
            if number != len(last) + 1:
                raise InputError(f"the numbers of {year or 'events'} have a gap: {len(last) + 1} was expected")
            last.append(1)
            return
        if number > len(last) or last[number - 1] != revision - 1:
            raise InputError("the revision before it is not there")
        last[number - 1] = revision

    def _removal(self, serial: str, body: Any) -> None:  # noqa: ANN401 - any JSON value
        data = body.get("data")
        year = data.get("year") if isinstance(data, dict) else None
        stubs = self._removals.pop(serial, StubSum())
        if type(year) is not int or not says(body, year, stubs.result()) or stubs.years != {year}:
            raise InputError(
                f"what is left of the {stubs.count} revisions removed with it was changed, added to or taken from"
            )


def _kind_of(origin: object) -> object:
    return origin.get("kind") if isinstance(origin, dict) else None
