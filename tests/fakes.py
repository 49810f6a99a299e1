"""Stand-ins for storage that live in memory: what the services need, nothing more."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any, Self

from records.services.ports import CatalogueEntry

if TYPE_CHECKING:
    from datetime import datetime
    from types import TracebackType

    from records.services.ports import Catalogue, Json

Versions = dict[tuple[str, str], list[CatalogueEntry]]


class FakeCatalogue:
    """Loaded documents in a dictionary."""

    def __init__(self, versions: Versions) -> None:
        self._versions = versions

    def latest(self, kind: str, key: str) -> CatalogueEntry | None:
        found = self._versions.get((kind, key))
        return found[-1] if found else None

    def version(self, kind: str, key: str, version: int) -> CatalogueEntry | None:
        found = self._versions.get((kind, key), [])
        return found[version - 1] if 0 < version <= len(found) else None

    def count(self) -> int:
        return sum(map(len, self._versions.values()))

    def every(self, kind: str, holding: str = "") -> list[CatalogueEntry]:
        newest = [found[-1] for (one, _), found in sorted(self._versions.items()) if one == kind]
        part = json.dumps(holding.casefold(), ensure_ascii=False)[1:-1]
        return [one for one in newest if part in json.dumps(one.body, ensure_ascii=False).casefold()]

    def add(self, kind: str, key: str, body: Json, loaded_at: datetime) -> int:
        body = json.loads(json.dumps(body, allow_nan=False))  # refuses what could not be stored
        found = self._versions.setdefault((kind, key), [])
        if not found or found[-1].body != body:
            found.append(CatalogueEntry(kind, key, len(found) + 1, loaded_at, body))
        return found[-1].version


class FakeUnitOfWork:
    """One transaction: works on a copy, and `commit` puts the copy in the book's place."""

    catalogue: Catalogue
    records: Any = None
    held: Any = None
    account: Any = None

    def __init__(self, book: FakeBook) -> None:
        self._book = book

    def __enter__(self) -> Self:
        self._copy = {place: list(found) for place, found in self._book.versions.items()}
        self.catalogue = FakeCatalogue(self._copy)
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._copy = {}

    def commit(self) -> None:
        self._book.versions = {place: list(found) for place, found in self._copy.items()}
        self._book.commits += 1


class FakeBook:
    """A book in memory; `commits` counts the transactions that were kept."""

    def __init__(self) -> None:
        self.versions: Versions = {}
        self.commits = 0

    def write(self) -> FakeUnitOfWork:
        return FakeUnitOfWork(self)

    def read(self) -> FakeUnitOfWork:
        return FakeUnitOfWork(self)
