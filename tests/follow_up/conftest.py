"""A firm's book of one's own for each test."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from tests.kit import Kit

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path


@pytest.fixture
def kit(tmp_path: Path) -> Iterator[Kit]:
    """Return a kit on a fresh copy of the firm's book."""
    made = Kit.at(tmp_path)
    yield made
    made.shut()
