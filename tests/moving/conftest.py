"""Books to move: one with all that a book can hold, and the command line."""

from __future__ import annotations

import hashlib
import json
from typing import TYPE_CHECKING, Any

import pytest

from records.services.events import append_event
from tests.bodies import spot_treatment
from tests.cli.conftest import Swathbook, swathbook
from tests.storage.chain import NOW, ZONE, append, fill, later, remove, visit

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from records.storage.unit_of_work import SqlBook

__all__ = ["Swathbook", "swathbook"]

# Names outside ASCII, with half of the pairs above U+FFFF that sort otherwise by code point than by UTF-16
ODD = {
    "caf\u00e9": "\u20ac",
    "\U0001f33f": "leaf",
    "\ufb33": "dalet",
    "quote": 'a "b" \\ \u2028 \u202e \x7f \u0085 \x01',
}


def everything(book: SqlBook) -> SqlBook:
    """Fill a book with two years, an amended and a voided record, a removed year, an event, held and loaded ones."""
    fill(
        book,
        visit(1, "2026-04-01"),
        visit(2, "2025-06-01", remarks="the fig tree knows"),
        visit(3, "2025-06-02", treatments=[spot_treatment()]),
        visit(4, "2026-04-02", document=ODD),
    )
    with book.write() as unit:
        append(unit, later(visit(2, "2025-06-01"), "amended", remarks="x"), "2025-000001", 2, "amended")
        append(unit, later(visit(1, "2026-04-01"), "amended", remarks="y"), "2026-000001", 2, "amended")
        append(unit, later(visit(3, "2025-06-02"), "voided"), "2025-000002", 2, "voided")
        append_event(unit, "contact", {"tries": 1}, NOW, day=NOW.date(), timezone=ZONE)
        for name in ("Wren Court", "Wr\u00e9n Court", "Wr\u00e9n Court \U0001f33f"):
            unit.catalogue.add("site", "wren", {"name": name, "zones": [1, None, True]}, NOW)
        unit.catalogue.add("person", "mo", {"name": "Mo", "odd": ODD}, NOW)
        held: dict[str, Any] = {"ref": "h-1", "area": 0.5, "odd": ODD, "half": "\ud800"}
        found = [{"code": "missing", "message": "\u20ac"}]
        unit.held.add("H-000001", "held", NOW, document=held, findings=found, ref="h-1", person="mo")
        unit.held.add("H-000001", "corrected", NOW, document={}, findings=[], ref="h-1", person=None, reason="b\u00e9")
        unit.held.add("H-000002", "held", NOW, document={"x": [1]}, findings=found, ref=None, person=None)
        unit.held.add("H-000001", "sealed", NOW, document={}, findings=[], ref="h-1", person="mo", serial="2026-000001")
        unit.commit()
    remove(book, 2025)
    fill(book, visit(5, "2026-05-01"), visit(6, "2027-01-02"))
    with book.write() as unit:
        append(unit, later(visit(4, "2026-04-02"), "voided"), "2026-000002", 2, "voided")
        unit.commit()
    return book


@pytest.fixture
def full(book: SqlBook) -> SqlBook:
    """Return a book that holds everything a book can hold."""
    return everything(book)


def documents(data: bytes) -> list[dict[str, Any]]:
    """Return the lines of an export, read."""
    return [json.loads(line) for line in data.splitlines()]


def written(lines: Sequence[dict[str, Any] | bytes], *, ends: bool = True) -> bytes:
    """Return an export of these lines; the digest of the last one is made to fit."""
    texts = [one if isinstance(one, bytes) else json.dumps(one, ensure_ascii=False).encode() + b"\n" for one in lines]
    if ends:
        last = json.loads(texts[-1])
        last["sha256"] = hashlib.sha256(b"".join(texts[:-1])).hexdigest()
        texts[-1] = json.dumps(last).encode() + b"\n"
    return b"".join(texts)


def write(path: Path, data: bytes) -> Path:
    """Write a file and return its path."""
    path.write_bytes(data)
    return path
