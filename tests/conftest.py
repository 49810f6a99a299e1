"""Fixtures that several folders of tests share: an empty migrated book, one copy for each test."""

from __future__ import annotations

import gc
import shutil
from typing import TYPE_CHECKING

import pytest
from hypothesis import settings

from records.storage.migrate import upgrade
from records.storage.unit_of_work import SqlBook

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from tests.servers import Postgres

# A loaded machine must not turn a property into a failure; what is slow is measured in tests/bench.
# Sixty examples a property keep the whole run under ten minutes on two cores; `tests.fuzz` looks longer.
settings.register_profile("calm", deadline=None, max_examples=60)
settings.load_profile("calm")

# Thousands of cases stay in memory to the end: looking through them for garbage again and again is time lost.
gc.set_threshold(50_000, 20, 100)

# What takes longest on one test begins first: a worker that got it last would be alone with it at the end.
LONGEST = ("packaging", "faults")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Put the folders with the longest tests first; all else stays in its order."""
    items.sort(key=lambda item: item.path.parent.name not in LONGEST)


@pytest.fixture(scope="session")
def empty_book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a migrated book that no test may change: migrations run once."""
    path = tmp_path_factory.mktemp("book") / "empty.db"
    upgrade(path)
    return path


@pytest.fixture
def book_path(empty_book: Path, tmp_path: Path) -> Path:
    """Return a fresh empty book of one's own."""
    return shutil.copyfile(empty_book, tmp_path / "book.db")


@pytest.fixture
def book(book_path: Path) -> SqlBook:
    """Return a fresh empty book, ready for units of work."""
    return SqlBook(book_path)


@pytest.fixture(scope="session")
def postgres() -> Iterator[Postgres]:
    """Return a PostgreSQL server of the test run's own, with the database `empty_book`."""
    from tests import servers  # noqa: PLC0415 - needs the driver

    with servers.folder_for_server() as folder, servers.running(folder) as server:
        yield server
