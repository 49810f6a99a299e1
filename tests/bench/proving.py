"""Proving, moving and asking a book: against bare loops over the same bytes, and how cost grows with the book."""

from __future__ import annotations

import json
import math
import shutil
import sqlite3
from contextlib import closing
from hashlib import sha256
from statistics import median
from typing import TYPE_CHECKING

from records.clock import SystemClock
from records.services.moving.exporting import export_book
from records.services.sealing import canonical
from records.storage.backup import copy_book
from records.storage.integrity import verify
from records.storage.unit_of_work import SqlBook
from tests.bench.measure import Figure, interleaved, run, seconds, swathbook
from tests.bench.packet import MANY, MANY_SITES, Nowhere, make_many

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from tests.bench.books import Cache

PROVED = 30_000  # applications of the book that is proved, copied and exported
SIZES = (10_000, 100_000, MANY)
STRAIGHT = 1.2  # the power of the book's size that a cost may grow with where all of it is read
FLAT = 0.25  # and where an index leads to a few records


def _book(cache: Cache, applications: int) -> Path:
    sites = max(MANY_SITES * applications // MANY, 20)
    return cache.get(f"packet-{applications}.db", lambda path: make_many(path, applications, sites))


def _texts(path: Path) -> list[str]:
    with closing(sqlite3.connect(path)) as connection:
        return [text for (text,) in connection.execute("SELECT body FROM revision ORDER BY id")]


def proving_figures(cache: Cache, runs: int) -> list[Figure]:
    """Measure `verify`, `export` and `backup` against bare loops over the same bytes."""
    path = _book(cache, PROVED)
    texts = _texts(path)
    copies = cache.folder / "copies"
    book = SqlBook(path)

    def bare() -> None:
        for text in texts:
            sha256(canonical(json.loads(text))).hexdigest()

    def bare_lines() -> None:
        sink = Nowhere()
        for text in texts:
            sink.write(text.encode() + b"\n")
            sha256(text.encode()).hexdigest()

    def export() -> None:
        with book.read() as work:
            export_book(work.moving, Nowhere(), SystemClock().now())

    def copied(copy: Callable[[Path, Path], object]) -> float:
        shutil.rmtree(copies, ignore_errors=True)
        copies.mkdir()
        return seconds(lambda: copy(path, copies / "copy.db"))

    count = len(texts)
    proof = interleaved(lambda: seconds(bare), lambda: seconds(lambda: verify(book)), min(runs, 5))
    lines = interleaved(lambda: seconds(bare_lines), lambda: seconds(export), min(runs, 5))
    files = interleaved(lambda: copied(shutil.copyfile), lambda: copied(copy_book), min(runs, 5))
    shutil.rmtree(copies, ignore_errors=True)
    return [
        Figure(
            f"`verify`, {count:,} records / bare loop of canonical JSON and SHA-256 over the same bodies",
            f"{count / proof[0]:,.0f} records a second",
            f"{count / proof[1]:,.0f} records a second",
            proof[0] / proof[1],
            0.25,
            at_least=True,
        ),
        _compared("`export` of that / bare loop that hashes and writes the same bodies", count, lines),
        _compared("the copy that `backup` makes of that / copy of the file's bytes", count, files),
    ]


def _compared(name: str, count: int, taken: tuple[float, float]) -> Figure:
    floor, subject = (f"{count / one:,.0f} records a second" for one in taken)
    return Figure(name, floor, subject, taken[0] / taken[1], 0, at_least=True, is_target=False)


def growth_figures(cache: Cache, runs: int) -> list[Figure]:
    """Measure how the cost of questions grows from one size of book to the next, start-up taken off, and memory."""
    books = [_book(cache, size) for size in SIZES]
    start = median(run(swathbook("find", "--help")).seconds for _ in range(3))
    figures = []
    for words, power in (
        (("find", "--site", "s00012"), STRAIGHT),  # looks through all addresses
        (("show", "2022-000100"), FLAT),
        (("--json", "summary", "2022"), STRAIGHT),
        (("verify",), STRAIGHT),
    ):
        ran = [_median(book, words, 1 if words == ("verify",) else min(runs, 3)) for book in books]
        taken = [max(one - start, 0.005) for one, _ in ran]
        figures.append(
            Figure(
                f"`{' '.join(words)}`, {SIZES[0]:,} / {SIZES[1]:,} / {SIZES[2]:,} applications: power of growth",
                " / ".join(f"{one:.2f} s" for one in taken[:2]),
                f"{taken[2]:.2f} s, {ran[2][1] / 1024:,.0f} MiB",
                math.log(taken[2] / taken[0]) / math.log(SIZES[2] / SIZES[0]),
                power,
            )
        )
    return figures


def _median(book: Path, words: tuple[str, ...], runs: int) -> tuple[float, int]:
    done = [run(swathbook(*words), book=book) for _ in range(runs)]
    return median(one.seconds for one in done), max(one.peak for one in done)
