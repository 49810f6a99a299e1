"""The commands that are killed, each with a book and files of its own."""

from __future__ import annotations

import json
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING, Any

from alembic import command

from records.cli.app import main
from records.services.closing import service
from records.storage.engine import create_file, make_engine
from records.storage.migrate import alembic_config, upgrade
from records.storage.schema import APPLICATION_ID, VERSIONS
from tests.cli.conftest import FIRM, ROOT, season, visit
from tests.faults.kills import LATER, NOW, Trials

if TYPE_CHECKING:
    from collections.abc import Callable

FIRST_ROWS = ROOT / "tests" / "migrations" / "first_rows.sql"
VISITS = 40  # of the demo season, in the books and files that are used


class Scenes:
    """Makes books once, and puts copies of them where trials need them."""

    NAMES = ("close", "close --lines", "amend", "void", "init", "backup", "restore", "export", "import")

    def __init__(self, folder: Path) -> None:
        """Make the books.

        Args:
            folder: for them and for the trials.
        """
        service.BATCH = 4  # so that a file of many visits is acknowledged in many parts
        self._folder = folder
        self._folder.mkdir(parents=True, exist_ok=True)
        self.firm = folder / "firm.db"
        upgrade(self.firm)
        _run("--book", self.firm, "load", *FIRM)
        self._lines = folder / "season.jsonl"
        visits = [json.dumps(one) + "\n" for one in season()]
        self._lines.write_text("".join(visits[:VISITS]), "utf-8")
        self.season = Path(shutil.copy(self.firm, folder / "season.db"))
        _run("--book", self.season, "close", "--lines", self._lines)
        self._backup = folder / "backup.db"
        _run("--book", self.season, "backup", self._backup)
        self._export = folder / "season.export"
        _run("--book", self.season, "export", "--out", self._export)
        self.visit = folder / "visit.json"
        self.visit.write_text(json.dumps(visit()), "utf-8")
        self.one = Path(shutil.copy(self.firm, folder / "one.db"))
        _run("--book", self.one, "close", self.visit)
        self._corrected = folder / "corrected.json"
        self._corrected.write_text(json.dumps(_corrected()), "utf-8")
        self._older = folder / "older.db"
        create_file(self._older)
        with make_engine(self._older, for_migration=True).begin() as connection:
            command.upgrade(alembic_config(connection), VERSIONS[0])
        with closing(sqlite3.connect(self._older)) as connection:
            connection.executescript(
                f"PRAGMA application_id = {APPLICATION_ID}; BEGIN; {FIRST_ROWS.read_text()} COMMIT;"
            )

    def trials(self, name: str, folder: Path) -> Trials:
        """Return the trials of a command, in a folder of their own."""
        return Trials(name, folder, self._prepared()[name])

    def all(self) -> list[Trials]:
        """Return the trials of every command that writes."""
        return [self.trials(name, self._folder / f"trial-{name}") for name in self.NAMES]

    def _prepared(self) -> dict[str, Callable[[Path], list[str]]]:
        def into(folder: Path, book: str | Path, *words: str | Path) -> list[str]:
            shutil.copy(book, folder / "book.db")
            return [str(word) for word in words]

        return {
            "close": lambda f: into(f, self.firm, "--json", "close", self.visit),
            "close --lines": lambda f: into(f, self.firm, "--json", "close", "--lines", self._lines),
            "amend": lambda f: into(
                f, self.one, "--json", "amend", "2026-000001", self._corrected, "--reason", "read again", "--by", "mo"
            ),
            "void": lambda f: into(
                f, self.one, "--json", "void", "2026-000001", "--reason", "entered twice", "--by", "mo"
            ),
            "init": lambda f: into(f, self._older, "init"),
            "backup": lambda f: into(f, self.season, "backup", "copy.db"),
            "restore": lambda f: into(f, self.one, "restore", self._backup, "--replace-newer"),
            "export": lambda f: into(f, self.season, "export", "--out", "season.jsonl"),
            "import": lambda _: ["import", str(self._export)],
        }


def _corrected() -> dict[str, Any]:
    document = visit()
    document["treatments"][0]["products"][0]["lot"] = "B2312"
    return document


def _run(*words: str | Path) -> None:
    import contextlib  # noqa: PLC0415
    import io  # noqa: PLC0415

    with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(io.StringIO()) as told:
        code = main([str(word) for word in words], LATER if "restore" in words else NOW)
    assert code in {0, 1}, (words, code, told.getvalue())
