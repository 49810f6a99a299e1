"""The firm of many states in a book of one's own, and the command line on it."""

from __future__ import annotations

import copy
from typing import TYPE_CHECKING, Protocol

import pytest

from records.cli.app import main
from tests.kit import Kit
from tests.notices.places import firm
from tests.screen import Ran

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path


class Run(Protocol):
    """Runs one command line."""

    def __call__(self, *words: object) -> Ran: ...


@pytest.fixture
def kit(tmp_path: Path) -> Iterator[Kit]:
    """Return a kit with the firm of many states."""
    made = Kit.at(tmp_path)
    made.load(**copy.deepcopy(firm()))
    yield made
    made.shut()


@pytest.fixture
def run(kit: Kit, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Run:
    """Return the command line on the kit's book and clock, in a folder of the test's own."""
    monkeypatch.delenv("COLUMNS", raising=False)
    monkeypatch.chdir(tmp_path)

    def ran(*words: object) -> Ran:
        code = main(["--book", str(kit.path), *map(str, words)], kit.clock)
        seen = capsys.readouterr()
        assert "Traceback" not in seen.out + seen.err
        return Ran(code, seen.out, seen.err)

    return ran
