"""`--help`, and one visit closed on a large book: what a person waits for."""

from __future__ import annotations

import json
import sqlite3
import sys
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING

from tests.bench.books import Cache, big_firm, make_sealed
from tests.bench.firm import visits
from tests.bench.measure import Figure, interleaved, milliseconds, run, swathbook

if TYPE_CHECKING:
    from tests.bench.firm import Json

# Imports SQLAlchemy and commits one row into the same file: a table of its own, through an engine, with durable writes.
_ONE_ROW = """
import sys
from sqlalchemy import create_engine, text
engine = create_engine(f"sqlite:///{sys.argv[1]}")
with engine.begin() as connection:
    connection.execute(text("INSERT INTO scratch (body) VALUES (:body)"), {"body": sys.argv[2]})
"""


def help_figures(_cache: Cache, runs: int) -> list[Figure]:
    """Measure `swathbook --help` against importing Typer."""
    script = Path(sys.executable).with_name("swathbook")
    words: list[str | Path] = [script, "--help"] if script.exists() else swathbook("--help")
    floor, subject = interleaved(
        lambda: run([sys.executable, "-c", "import typer"]).seconds, lambda: run(words).seconds, runs
    )
    told = milliseconds(floor), milliseconds(subject)
    return [Figure("`swathbook --help` / `import typer`", *told, subject / floor, 3)]


def close_figures(cache: Cache, runs: int) -> list[Figure]:
    """Measure one `close FILE` on a book of many sealed visits against committing one row into the same file."""
    count = 10_000
    firm = big_firm()
    made = cache.get(f"sealed-{count}.db", lambda path: make_sealed(path, firm, count))
    book = cache.copy(made)
    _add_scratch(book)
    documents = islice(visits(firm, count + 2 * runs + 2), count, None)
    file = cache.folder / "visit.json"

    def close() -> float:
        document: Json = next(documents)
        file.write_text(json.dumps(document))
        return run(swathbook("--book", book, "close", file)).seconds

    def commit() -> float:
        return run([sys.executable, "-c", _ONE_ROW, book, file.read_text() if file.exists() else "{}"]).seconds

    floor, subject = interleaved(commit, close, runs)
    told = milliseconds(floor), milliseconds(subject)
    return [Figure(f"`close FILE`, {count:,} sealed visits / one row by SQLAlchemy", *told, subject / floor, 3)]


def _add_scratch(book: Path) -> None:
    connection = sqlite3.connect(book)
    connection.execute("CREATE TABLE scratch (id INTEGER PRIMARY KEY, body TEXT NOT NULL)")
    connection.commit()
    connection.close()
