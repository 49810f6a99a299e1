"""The command line under test: run in this process, with a clock that stands still and screens that are watched."""

from __future__ import annotations

import importlib.util
import io
import json
import shutil
import sys
from datetime import datetime
from pathlib import Path
from typing import Any, Protocol

import pytest

from records.cli.app import main
from records.cli.output import display_width
from records.clock import FixedClock
from tests.demo_book import make
from tests.screen import Ran

ROOT = Path(__file__).parents[2]
FIRM = sorted((ROOT / "demo" / "firm").glob("*.toml"))
VISITS = ROOT / "demo" / "visits"
AFTER = datetime.fromisoformat("2026-10-21T18:00-05:00")  # the evening of the last visit of the demo
TOOL = Path(sys.executable).parent / "swathbook"


def watch(ran: Ran) -> None:
    """No screen shows a traceback, a control code, or a line wider than 80 columns (JSON is for programs)."""
    assert "Traceback" not in ran.err + ran.out
    shown = ran.out + ran.err
    steering = [char for char in shown if (ord(char) < 32 and char not in "\n\t") or 0x7F <= ord(char) < 0xA0]
    assert not steering, steering[:5]
    if not ran.out.lstrip().startswith("{"):
        # An address alone on its line is never broken: it is there to be copied.
        lines = [line for line in ran.out.splitlines() if not line.strip().startswith("http")]
        wide = [line for line in lines if display_width(line) > 80]
        assert not wide, wide[:3]


class Swathbook(Protocol):
    """Runs one command line; the book is that of the test unless `--book` says otherwise."""

    def __call__(
        self, *words: object, stdin: str | bytes | None = None, at: datetime | str = AFTER, watched: bool = True
    ) -> Ran: ...


def season() -> list[dict[str, Any]]:
    """Return the demo season's visit documents."""
    spec = importlib.util.spec_from_file_location("demo_season", ROOT / "demo" / "season.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    found: list[dict[str, Any]] = module.visits()
    return found


@pytest.fixture(scope="session")
def firm_book(empty_book: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a book with the demo firm loaded and no visit; nobody changes it."""
    path = shutil.copyfile(empty_book, tmp_path_factory.mktemp("firm") / "firm.db")
    clock = FixedClock(datetime.fromisoformat("2026-04-01T08:00-05:00"))
    assert main(["--book", str(path), "load", *map(str, FIRM)], clock) == 0
    return path


@pytest.fixture(scope="session")
def season_book(firm_book: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a book with the whole demo season sealed; nobody changes it."""
    folder = tmp_path_factory.mktemp("season")
    path = shutil.copyfile(firm_book, folder / "season.db")
    lines = folder / "season.jsonl"
    lines.write_text("".join(json.dumps(visit) + "\n" for visit in season()), "utf-8")
    assert main(["--book", str(path), "close", "--lines", str(lines)], FixedClock(AFTER)) == 0
    return path


@pytest.fixture(scope="session")
def demo_book(empty_book: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the book of the demo, made by what its script types; nobody changes it."""
    path = shutil.copyfile(empty_book, tmp_path_factory.mktemp("demo") / "season.db")
    make(path)
    return path


@pytest.fixture
def firm(firm_book: Path, tmp_path: Path) -> Path:
    """Return a book of one's own with the demo firm."""
    return shutil.copyfile(firm_book, tmp_path / "firm.db")


@pytest.fixture
def year(season_book: Path, tmp_path: Path) -> Path:
    """Return a book of one's own with the demo season."""
    return shutil.copyfile(season_book, tmp_path / "year.db")


@pytest.fixture
def swathbook(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Swathbook:
    """Return the command line, run in a folder of the test's own, 80 columns wide."""
    for name in ("COLUMNS", "SWATHBOOK_BOOK", "SWATHBOOK_PERSON", "SWATHBOOK_DEBUG"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.chdir(tmp_path)

    def run(*words: object, stdin: str | bytes | None = None, at: datetime | str = AFTER, watched: bool = True) -> Ran:
        if stdin is not None:
            data = stdin.encode() if isinstance(stdin, str) else stdin
            monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(data), encoding="utf-8"))
        clock = FixedClock(datetime.fromisoformat(at) if isinstance(at, str) else at)
        code = main([str(word) for word in words], clock)
        seen = capsys.readouterr()
        ran = Ran(code, seen.out, seen.err)
        if watched:
            watch(ran)
        return ran

    return run


def visit(**parts: object) -> dict[str, Any]:
    """Return a visit of 20 October that seals in the demo firm, with some parts other than usual (None: left out)."""
    document: dict[str, Any] = {
        "ref": "test-1",
        "site": "lark-lane-7",
        "applicator": "mo",
        "supervisor": None,
        "started": "2026-10-20T09:10",
        "finished": "2026-10-20T09:32",
        "weather": {
            "wind_speed": "6 mph",
            "wind_from": "NW",
            "temperature": "61 degF",
            "measured_at": "2026-10-20T09:05",
            "source": "meter",
        },
        "treatments": [
            {
                "zones": ["front"],
                "method": "broadcast",
                "area": "4200 sq ft",
                "targets": ["ground ivy"],
                "equipment": "skid-1",
                "spray": "8.4 gal",
                "products": [{"product": "brindle-4l", "rate": "1.1 fl oz/1000 sq ft", "lot": "B2311"}],
            }
        ],
        "confirmed": [],
        "remarks": "",
    }
    document.update(parts)
    return document
