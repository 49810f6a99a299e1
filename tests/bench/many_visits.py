"""`close --lines`: visits a second against a bare loop over the same bytes, and memory against the number of visits."""

from __future__ import annotations

import hashlib
import json
import sqlite3
import statistics
from dataclasses import replace
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING

from records.services.closing.service import BATCH
from tests.bench.books import Cache, big_firm, make_loaded, write_lines
from tests.bench.measure import Figure, interleaved, run, seconds, swathbook

if TYPE_CHECKING:
    from tests.bench.firm import Firm

COUNT = 10_000
FEW = 2_000


def bare_loop(lines: Path, place: Path, batch: int = COUNT) -> float:
    """Return the seconds of json.loads, SHA-256 and an INSERT for each line.

    Args:
        lines: one document a line.
        place: of the database, made anew.
        batch: lines in one durable transaction; all of them in one is the hardest floor there is.
    """
    place.unlink(missing_ok=True)
    connection = sqlite3.connect(place, isolation_level=None)
    connection.execute("PRAGMA synchronous=FULL")
    connection.execute("CREATE TABLE line (id INTEGER PRIMARY KEY, digest TEXT NOT NULL, body TEXT NOT NULL)")

    def loop() -> None:
        with lines.open("rb") as stream:
            while part := list(islice(stream, batch)):
                connection.execute("BEGIN")
                for line in part:
                    json.loads(line)
                    row = hashlib.sha256(line).hexdigest(), line.decode()
                    connection.execute("INSERT INTO line (digest, body) VALUES (?, ?)", row)
                connection.execute("COMMIT")

    taken = seconds(loop)
    connection.close()
    return taken


def lines_figures(cache: Cache, runs: int) -> list[Figure]:
    """Measure the command on many visits, all of them checked and sealed; the time it takes to start is told apart.

    The loop's own interpreter has started before its time is taken, too.
    """
    firm = big_firm()
    lines = cache.get(f"visits-{COUNT}.jsonl", lambda path: write_lines(path, firm, COUNT))
    few = cache.get(f"visits-{FEW}-of-{COUNT}.jsonl", lambda path: _head(lines, path))
    loaded = cache.get("loaded.db", lambda path: _loaded(path, firm))
    none = cache.get("no-visits.jsonl", Path.touch)
    scratch = cache.folder / "loop.db"
    peaks: dict[int, list[int]] = {0: [], FEW: [], COUNT: []}
    whole: list[float] = []
    batched: list[float] = []

    def close(source: Path, count: int) -> float:
        ran = run(swathbook("--book", cache.copy(loaded), "close", "--lines", source))
        peaks[count].append(ran.peak)
        return ran.seconds

    def subject() -> float:
        close(few, FEW)
        start = close(none, 0)
        whole.append(close(lines, COUNT))
        return whole[-1] - start

    def floor() -> float:
        batched.append(bare_loop(lines, scratch, BATCH))
        return bare_loop(lines, scratch)

    bare, closed = interleaved(floor, subject, min(runs, 5))
    small, large = (statistics.median(peaks[count]) for count in (FEW, COUNT))
    return [
        _rate(f"`close --lines`, {COUNT:,} visits / json.loads + SHA-256 + INSERT, one transaction", bare, closed),
        replace(_rate("the same with the start of the process", bare, statistics.median(whole)), is_target=False),
        replace(
            _rate(f"the same / the loop in {COUNT // BATCH} transactions, as here", statistics.median(batched), closed),
            is_target=False,
        ),
        Figure(
            f"its peak memory at {COUNT:,} visits / at {FEW:,}",
            f"{small / 1024:.1f} MiB",
            f"{large / 1024:.1f} MiB",
            large / small,
            1.2,
        ),
    ]


def _rate(name: str, floor: float, subject: float) -> Figure:
    told = f"{COUNT / floor:,.0f} a second", f"{COUNT / subject:,.0f} a second"
    return Figure(name, *told, floor / subject, 0.01, at_least=True)


def _head(source: Path, target: Path) -> None:
    with source.open("rb") as stream:
        target.write_bytes(b"".join(islice(stream, FEW)))


def _loaded(path: Path, firm: Firm) -> None:
    make_loaded(path, firm)
