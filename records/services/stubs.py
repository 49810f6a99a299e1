"""Serials, and what is left of a removed year: its stubs, added up as the sealed removal has to tell them."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from hashlib import sha256
from typing import TYPE_CHECKING, Any

from records.services.ports import YearStubs

if TYPE_CHECKING:
    from records.services.ports import Json

_SERIAL = re.compile(r"(E|[1-9][0-9]{3})-(0[0-9]{5}|[1-9][0-9]{5,14})", re.ASCII)


def numbered(serial: str) -> tuple[int, int] | None:
    """Return year and number of a serial such as `2026-000001`, or None; events (`E-000001`) stand in the year 0."""
    found = _SERIAL.fullmatch(serial)
    return None if found is None else (0 if found[1] == "E" else int(found[1]), int(found[2]))


@dataclass(slots=True)
class StubSum:
    """Adds up the stubs of one removal, in the order of sealing."""

    count: int = 0
    first_seal: str = ""
    last_seal: str = ""
    years: set[int] = field(default_factory=set)
    _hash: Any = field(default_factory=sha256)

    def add(self, order: int, serial: str, revision: int, seal: str) -> None:
        """Add one stub."""
        self.first_seal = self.first_seal or seal
        self.last_seal = seal
        self.count += 1
        if (place := numbered(serial)) is not None:  # a serial that is none is told elsewhere
            self.years.add(place[0])
        self._hash.update(f"{order} {serial} {revision} {seal}\n".encode())

    def result(self) -> YearStubs:
        """Return what the sealed removal has to say."""
        return YearStubs(self.count, self.first_seal, self.last_seal, self._hash.hexdigest())


def says(body: object, year: int, stubs: YearStubs) -> bool:
    """Return whether a body is that of the removal of a year with these stubs."""
    told: Json = stubs.data(year)
    data = body.get("data") if isinstance(body, dict) else None
    return isinstance(data, dict) and {name: data.get(name) for name in told} == told
