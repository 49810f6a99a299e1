"""The account under test: a book with a small firm, and the command line with the demo firm."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from tests.cli.conftest import firm, firm_book, season_book, swathbook, year
from tests.kit import Kit

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

__all__ = ["firm", "firm_book", "kit", "season_book", "swathbook", "year"]


@pytest.fixture
def kit(tmp_path: Path) -> Iterator[Kit]:
    """Return a book of one's own with a small firm."""
    made = Kit.at(tmp_path)
    yield made
    made.shut()
