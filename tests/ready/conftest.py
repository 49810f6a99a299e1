"""A firm of its own book for each test, and the command line over it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

import pytest

from records.cli.app import main
from records.cli.output import display_width
from tests.kit import Kit
from tests.screen import Ran

if TYPE_CHECKING:
    from pathlib import Path


_ONE_LINE = ("swathbook: ", "wrote ")  # an error is one line, however long; so is a path


class Swathbook(Protocol):
    """Runs one command line over the kit's book, at the kit's time."""

    def __call__(self, *words: object) -> Ran: ...


@pytest.fixture
def kit(tmp_path: Path) -> Kit:
    """Return the small firm in a book of its own."""
    return Kit.at(tmp_path)


@pytest.fixture
def swathbook(kit: Kit, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Swathbook:
    """Return the command line; no screen is wider than 80 columns."""
    monkeypatch.delenv("COLUMNS", raising=False)

    def run(*words: object) -> Ran:
        code = main(["--book", str(kit.path), *map(str, words)], kit.clock)
        ran = Ran(code, *capsys.readouterr())
        assert "Traceback" not in ran.err
        if not ran.out.startswith(("{", "BEGIN")):
            said = [*ran.out.splitlines(), *(line for line in ran.err.splitlines() if not line.startswith(_ONE_LINE))]
            assert not [line for line in said if display_width(line) > 80]
        return ran

    return run
