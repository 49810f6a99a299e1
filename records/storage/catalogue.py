"""Loaded documents: every version that ever held."""

from __future__ import annotations

import json
from datetime import datetime
from functools import lru_cache
from typing import TYPE_CHECKING

from sqlalchemy import bindparam, func, select
from sqlalchemy.orm import aliased

from records.clock import instant_text
from records.services.ports import CatalogueEntry
from records.services.sealing import canonical
from records.storage.functions import casefold, position
from records.storage.link import ONE, ZERO, Prepared
from records.storage.rowseal import row_seal
from records.storage.tables import CatalogueRow

if TYPE_CHECKING:
    from records.services.ports import Json
    from records.storage.link import Link

_REMEMBERED = 2048  # documents kept parsed during one unit of work


_C = CatalogueRow
_DOCUMENT = (_C.kind, _C.id, _C.version, _C.loaded_at, _C.body)
_LATEST = Prepared(
    lambda: (
        select(*_DOCUMENT)
        .where(_C.kind == bindparam("kind"), _C.id == bindparam("id"))
        .order_by(_C.version.desc())
        .limit(ONE)
        .offset(ZERO)
    ),
    "kind",
    "id",
)
_VERSION = Prepared(
    lambda: select(*_DOCUMENT).where(
        _C.kind == bindparam("kind"), _C.id == bindparam("id"), _C.version == bindparam("version")
    ),
    "kind",
    "id",
    "version",
)
_newer = aliased(_C)
_EVERY = Prepared(
    lambda: (
        select(*_DOCUMENT)
        .where(
            _C.kind == bindparam("kind"),
            ~select(_newer.version)
            .where(_newer.kind == _C.kind, _newer.id == _C.id, _newer.version > _C.version)
            .exists(),
        )
        .order_by(_C.id)
    ),
    "kind",
)


_HOLDING = Prepared(
    lambda: (
        select(*_DOCUMENT)
        .where(
            _C.kind == bindparam("kind"),
            position(casefold(_C.body), bindparam("part")) >= ONE,
            ~select(_newer.version)
            .where(_newer.kind == _C.kind, _newer.id == _C.id, _newer.version > _C.version)
            .exists(),
        )
        .order_by(_C.id)
    ),
    "kind",
    "part",
)
_LAST = Prepared(lambda: select(_C.number, _C.seal).order_by(_C.number.desc()).limit(ONE).offset(ZERO))
_COUNT = Prepared(lambda: select(func.count()).select_from(_C))
_parsed = lru_cache(maxsize=_REMEMBERED)(json.loads)  # the same documents are asked for in every unit of work


def _entry(row: tuple[str, str, int, str, str]) -> CatalogueEntry:
    kind, key, version, loaded_at, body = row
    return CatalogueEntry(kind, key, version, datetime.fromisoformat(loaded_at), _parsed(body), body)


class SqlCatalogue:
    """Loaded documents; what was read once in a unit of work is remembered, so treat bodies as read-only."""

    def __init__(self, link: Link) -> None:
        """Work on one transaction."""
        self._link = link
        self._known: dict[tuple[str, str], CatalogueEntry | None] = {}

    def latest(self, kind: str, key: str) -> CatalogueEntry | None:
        """Return the newest version of one document."""
        place = (kind, key)
        if place not in self._known:
            if len(self._known) >= _REMEMBERED:
                self._known.clear()
            row = self._link.row(_LATEST, kind, key)
            self._known[place] = None if row is None else _entry(row)
        return self._known[place]

    def version(self, kind: str, key: str, version: int) -> CatalogueEntry | None:
        """Return one version of one document."""
        row = self._link.row(_VERSION, kind, key, version)
        return None if row is None else _entry(row)

    def count(self) -> int:
        """Return how many versions there are of all documents together."""
        return int(self._link.row(_COUNT)[0])

    def every(self, kind: str, holding: str = "") -> list[CatalogueEntry]:
        """Return the newest version of every document of a kind, by id.

        Args:
            kind: of document.
            holding: only those that hold this text, in whatever case; they are found without reading the others.
        """
        if holding:
            # As canonical JSON writes it, where it may stand; quotation marks and the like are escaped there
            part = json.dumps(holding.casefold(), ensure_ascii=False)[1:-1]
            return [_entry(row) for row in self._link.rows(_HOLDING, kind, part)]
        return [_entry(row) for row in self._link.rows(_EVERY, kind)]

    def add(self, kind: str, key: str, body: Json, loaded_at: datetime) -> int:
        """Store a new version unless the newest has the same body; return the version that holds the body."""
        text = canonical(body).decode()
        newest = self._link.row(_LATEST, kind, key)
        if newest is not None and newest[4] == text:
            return int(newest[2])
        version = 1 if newest is None else newest[2] + 1
        self._append(kind, key, version, instant_text(loaded_at), text)
        return int(version)

    def _append(self, kind: str, key: str, version: int, loaded_at: str, text: str) -> None:
        """Store a version after the last one of all documents, sealed to it."""
        number, seal = self._link.row(_LAST) or (0, "")
        mark = row_seal(seal, (number + 1, kind, key, version, loaded_at, text))
        self._link.add(CatalogueRow, [(kind, key, version, number + 1, loaded_at, mark, text)])
        self._known.pop((kind, key), None)
