"""The demo firm moved to a state that wants reports, with its whole season sealed."""

from __future__ import annotations

import json
import re
import shutil
from datetime import datetime
from typing import TYPE_CHECKING

import pytest

from records.cli.app import main
from records.clock import FixedClock
from tests.cli.conftest import AFTER, FIRM, firm_book, season, season_book, swathbook

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

__all__ = ["firm_book", "season_book", "swathbook"]
COUNTIES = {
    "NY": ("Erie", "Monroe", "St. Lawrence"),
    "CA": ("Plumas", "Sierra", "Nevada"),
    "ME": ("Knox", "Waldo", "York"),
}


@pytest.fixture(scope="session")
def moved(empty_book: Path, tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], Path]:
    """Return a function that gives the season's book of a firm in another state; nobody changes it."""
    made: dict[str, Path] = {}

    def make(state: str) -> Path:
        if state not in made:
            folder = tmp_path_factory.mktemp(state)
            made[state] = shutil.copyfile(empty_book, folder / "book.db")
            files = [folder / file.name for file in FIRM]
            seen: dict[str, str] = {}
            for source, target in zip(FIRM, files, strict=True):
                text = source.read_text("utf-8").replace('"MN"', f'"{state}"').replace('"MN-', f'"{state}-')
                text = text.replace("us-mn", f"us-{state.lower()}")
                target.write_text(
                    re.sub(r'county = "([^"]+)"', lambda found: _county(found, seen, state), text), "utf-8"
                )
            lines = folder / "season.jsonl"
            lines.write_text("".join(json.dumps(visit) + "\n" for visit in season()), "utf-8")
            early = FixedClock(datetime.fromisoformat("2026-04-01T08:00-05:00"))
            assert main(["--book", str(made[state]), "load", *map(str, files)], early) == 0
            assert main(["--book", str(made[state]), "close", "--lines", str(lines)], FixedClock(AFTER)) == 0
        return made[state]

    return make


def _county(found: re.Match[str], seen: dict[str, str], state: str) -> str:
    known = seen.setdefault(found[1], COUNTIES[state][len(seen) % 3])
    return f'county = "{known}"'


@pytest.fixture
def in_new_york(moved: Callable[[str], Path], tmp_path: Path) -> Path:
    """Return a book of one's own with the season in New York."""
    return shutil.copyfile(moved("NY"), tmp_path / "ny.db")


@pytest.fixture
def in_california(moved: Callable[[str], Path], tmp_path: Path) -> Path:
    """Return a book of one's own with the season in California."""
    return shutil.copyfile(moved("CA"), tmp_path / "ca.db")


@pytest.fixture
def in_maine(moved: Callable[[str], Path], tmp_path: Path) -> Path:
    """Return a book of one's own with the season in Maine."""
    return shutil.copyfile(moved("ME"), tmp_path / "me.db")
