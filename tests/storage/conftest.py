"""The storage is tested twice: in a file, and on a PostgreSQL server."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from records.storage.unit_of_work import SqlBook

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from tests.servers import Postgres


@pytest.fixture(params=["file", "server"])
def book(request: pytest.FixtureRequest) -> Iterator[SqlBook]:
    """Return a fresh empty book of one's own, of either kind."""
    if request.param == "file":
        path: Path = request.getfixturevalue("book_path")
        yield SqlBook(path)
        return
    server: Postgres = request.getfixturevalue("postgres")
    name = server.database("empty_book")
    yield SqlBook(server.url(name))
    server.drop(name)


@pytest.fixture
def file_book(book_path: Path) -> SqlBook:
    """Return a fresh empty book that is a file."""
    return SqlBook(book_path)
