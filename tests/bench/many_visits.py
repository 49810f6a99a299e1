"""`close --lines`: visits a second against a bare loop over the same bytes, and memory against the number of visits."""

from __future__ import annotations

import hashlib
import json
import sqlite3
import statistics
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING

from tests.bench.books import Cache, firm_of, make_loaded, write_lines
from tests.bench.measure import Figure, interleaved, run, seconds, swathbook

if TYPE_CHECKING:
    from tests.bench.firm import Firm

COUNT = 10_000
FEW = 2_000


def bare_loop(lines: Path, place: Path) -> float:
    """Return the seconds of json.loads, SHA-256 and an INSERT for each line, all in one transaction.

    One transaction is the hardest floor: `close --lines` commits every 250 visits and waits for the disk each time.
    """
    place.unlink(missing_ok=True)
    connection = sqlite3.connect(place, isolation_level=None)
    connection.execute("CREATE TABLE line (id INTEGER PRIMARY KEY, digest TEXT NOT NULL, body TEXT NOT NULL)")

    def loop() -> None:
        connection.execute("BEGIN")
        with lines.open("rb") as stream:
            for line in stream:
                json.loads(line)
                row = hashlib.sha256(line).hexdigest(), line.decode()
                connection.execute("INSERT INTO line (digest, body) VALUES (?, ?)", row)
        connection.execute("COMMIT")

    taken = seconds(loop)
    connection.close()
    return taken


def lines_figures(cache: Cache, runs: int) -> list[Figure]:
    """Measure the whole command on many visits, all of them checked and sealed."""
    firm = firm_of(SITES)
    lines = cache.get(f"visits-{COUNT}.jsonl", lambda path: write_lines(path, firm, COUNT))
    few = cache.get(f"visits-{FEW}-of-{COUNT}.jsonl", lambda path: _head(lines, path))
    loaded = cache.get("loaded.db", lambda path: _loaded(path, firm))
    peaks: dict[int, list[int]] = {FEW: [], COUNT: []}

    def close(source: Path, count: int) -> float:
        ran = run(swathbook("--book", cache.copy(loaded), "close", "--lines", source))
        peaks[count].append(ran.peak)
        return ran.seconds

    def both() -> float:
        close(few, FEW)
        return close(lines, COUNT)

    floor, subject = interleaved(lambda: bare_loop(lines, cache.folder / "loop.db"), both, min(runs, 3))
    small, large = (statistics.median(peaks[count]) for count in (FEW, COUNT))
    return [
        Figure(
            f"`close --lines`, {COUNT:,} visits / json.loads + SHA-256 + INSERT, one transaction",
            f"{COUNT / floor:,.0f} a second",
            f"{COUNT / subject:,.0f} a second",
            floor / subject,
            0.01,
            at_least=True,
        ),
        Figure(
            f"its peak memory at {COUNT:,} visits / at {FEW:,}",
            f"{small / 1024:.1f} MiB",
            f"{large / 1024:.1f} MiB",
            large / small,
            1.2,
        ),
    ]


def _head(source: Path, target: Path) -> None:
    with source.open("rb") as stream:
        target.write_bytes(b"".join(islice(stream, FEW)))


def _loaded(path: Path, firm: Firm) -> None:
    make_loaded(path, firm)
