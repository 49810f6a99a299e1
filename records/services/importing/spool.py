"""Lines of one table put in order outside of memory: jobs found together, equal lines found apart.

A private temporary database that the system deletes on closing; memory stays flat however long the table is.
"""

from __future__ import annotations

import json
import sqlite3
from dataclasses import dataclass
from hashlib import sha256
from itertools import groupby
from operator import itemgetter
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping
    from types import TracebackType
    from typing import Self

# Lines lie in the order they were read; the keys lie apart from them, so that looking one up reads little.
_TABLES = """
CREATE TABLE known (digest TEXT PRIMARY KEY) STRICT, WITHOUT ROWID;
CREATE TABLE seen (digest TEXT PRIMARY KEY, row INTEGER NOT NULL) STRICT, WITHOUT ROWID;
CREATE TABLE repeated (digest TEXT PRIMARY KEY, count INTEGER NOT NULL) STRICT, WITHOUT ROWID;
CREATE TABLE job (key TEXT PRIMARY KEY, first INTEGER NOT NULL) STRICT, WITHOUT ROWID;
CREATE TABLE line (row INTEGER PRIMARY KEY, first INTEGER NOT NULL, digest TEXT NOT NULL, data TEXT NOT NULL) STRICT;
CREATE INDEX line_by_job ON line (first, row);
"""
_PRAGMAS = "PRAGMA journal_mode=OFF; PRAGMA synchronous=OFF; PRAGMA locking_mode=EXCLUSIVE; PRAGMA cache_size=-16000;"


@dataclass(frozen=True, slots=True)
class SpooledLine:
    """One line to be imported."""

    row: int
    digest: str
    data: Mapping[str, str]


class Spool:
    """Holds a table's lines while it is read, and gives them back job by job in the order of the table."""

    def __enter__(self) -> Self:
        """Make the temporary database."""
        self._database = sqlite3.connect("", isolation_level=None)  # "": private, on disk when large
        self._database.executescript(f"{_PRAGMAS} {_TABLES} BEGIN;")
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Delete it."""
        self._database.close()

    def remember(self, digests: Iterable[str]) -> None:
        """Note lines that are in the book already."""
        self._database.executemany("INSERT OR IGNORE INTO known VALUES (?)", ((digest,) for digest in digests))

    def is_known(self, digest: str) -> bool:
        """Tell whether a line is in the book already."""
        return self._database.execute("SELECT 1 FROM known WHERE digest = ?", (digest,)).fetchone() is not None

    def first(self, digest: str) -> int | None:
        """Return the row of an equal line seen before."""
        found = self._database.execute("SELECT row FROM seen WHERE digest = ?", (digest,)).fetchone()
        return None if found is None else int(found[0])

    def repeat(self, digest: str) -> int:
        """Count one more line that equals an earlier one; return how many have come by now."""
        found = self._database.execute(
            "INSERT INTO repeated VALUES (?, 1) ON CONFLICT DO UPDATE SET count = count + 1 RETURNING count", (digest,)
        ).fetchone()
        return int(found[0])

    def add(self, row: int, digest: str, job: str | None, data: Mapping[str, str]) -> None:
        """Keep a line; without a job it is only remembered for comparison."""
        run = self._database.execute
        run("INSERT INTO seen VALUES (?, ?)", (digest, row))
        if job is None:
            return
        key = sha256(job.encode()).hexdigest()[:32]
        run("INSERT OR IGNORE INTO job VALUES (?, ?)", (key, row))
        (first,) = run("SELECT first FROM job WHERE key = ?", (key,)).fetchone()
        run("INSERT INTO line VALUES (?, ?, ?, ?)", (row, first, digest, json.dumps(data, ensure_ascii=False)))

    def jobs(self) -> Iterator[list[SpooledLine]]:
        """Yield the lines of each job, jobs by their first row, lines by row."""
        rows = self._database.execute("SELECT first, row, digest, data FROM line ORDER BY first, row")
        for _, lines in groupby(rows, key=itemgetter(0)):
            yield [SpooledLine(row, digest, json.loads(data)) for _, row, digest, data in lines]
