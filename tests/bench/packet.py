"""The inspection packet: pages a second against a bare canvas, memory, and how soon an answer begins on a big book."""

from __future__ import annotations

import io
import os
import re
import subprocess
import sys
import time
from statistics import median
from typing import TYPE_CHECKING

from reportlab.pdfgen.canvas import Canvas

from records.clock import SystemClock
from records.reports.fonts import BOLD, REGULAR, face
from records.reports.layout import paper_size
from records.reports.packet import PacketPdf
from records.reports.stream import PageStream
from records.services.inspecting.packet import open_packet
from records.services.inspecting.request import Request
from records.storage.unit_of_work import SqlBook
from tests.bench.books import Cache, make_loaded, make_unchecked, seal_unchecked
from tests.bench.firm import make_firm, visits
from tests.bench.measure import Figure, interleaved, run, swathbook

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from _typeshed import ReadableBuffer

    from records.reports.layout import Page

YEAR = 6_500  # applications in a year of 5,000 records
YEAR_SITES = 1_000  # of the firm with that year
MANY = 1_000_000  # applications in the big book
MANY_SITES = 26_000  # of the firm with the big book: six seasons of it
WITHIN = 1.0  # seconds until an answer begins
MOST_MEMORY = 2.0  # times: what a packet of a whole year may take, over one of a tenth of it
QUERIES: tuple[tuple[str, ...], ...] = (
    (),
    ("--from", "2024-05", "--to", "2024-06"),
    ("--site", "s12345"),
    ("--site", "1 "),
    ("--customer", "c0123"),
    ("--person", "p3"),
    ("--product", "h0004"),
    ("--registration", "99999-104", "--from", "2023"),
    ("--active", "azine"),
    ("--active", "azine", "--person", "p1", "--random", "25", "--seed", "7"),
    ("--random", "25", "--seed", "7"),
)

_COUNT = re.compile(rb"[0-9,]+ records?\b")
# A process begins with the peak of the one that started it, so a small one stands between
_PEAK = """
import os, subprocess, sys
process = subprocess.Popen(sys.argv[1:], stdout=subprocess.DEVNULL)
_, status, used = os.wait4(process.pid, 0)
if status:
    sys.exit(f"ended with {status}")
print(used.ru_maxrss)
"""


class Nowhere(io.BytesIO):
    """Takes bytes and forgets them."""

    def write(self, data: ReadableBuffer, /) -> int:
        """Take what comes."""
        return memoryview(data).nbytes


def draw_packet(path: Path, sink: PacketPdf) -> int:
    """Make a whole packet: find, read, judge and draw every record of a book; return the pages."""
    with SqlBook(path).read() as work:
        packet = open_packet(work, Request())
        sink.begin(packet.gather(SystemClock().now().date()))
        for part in packet.records():
            sink.record(part)
        sink.end()
    return sink.pages


class _BareStream(PageStream):
    """Draws the strings of each page with a plain canvas, too, and takes the time of that alone."""

    canvas: Canvas
    taken: float

    def put(self, page: Page) -> None:
        """Put a page out."""
        height = self.canvas._pagesize[1]  # type: ignore[attr-defined]
        strings = [(text.font, text.size, text.x, height - text.y, text.text) for text in page.texts]
        start = time.perf_counter()
        for font, size, x, y, text in strings:
            self.canvas.setFont(font, size)
            self.canvas.drawString(x, y, text)
        self.canvas.showPage()
        type(self).taken += time.perf_counter() - start
        super().put(page)


class _BarePdf(PacketPdf):
    stream = _BareStream


def bare_seconds(path: Path) -> float:
    """Return how long a plain canvas takes for the packet's strings at their places, and nothing else.

    The pages come from a packet made on the way; only the drawing is timed.
    """
    _BareStream.canvas = Canvas(Nowhere(), pagesize=paper_size("letter"), pageCompression=1, invariant=1)
    _BareStream.taken = 0.0
    draw_packet(path, _BarePdf(Nowhere(), "letter"))
    start = time.perf_counter()
    _BareStream.canvas.save()
    return _BareStream.taken + time.perf_counter() - start


def page_figures(cache: Cache, runs: int) -> list[Figure]:
    """Measure a packet of a full year: the rate of its pages, and its memory against a packet of a tenth of it."""
    face(REGULAR), face(BOLD)
    path = _year(cache, YEAR)
    pages = 0

    def subject() -> float:
        nonlocal pages
        start = time.perf_counter()
        pages = draw_packet(path, PacketPdf(Nowhere(), "letter"))
        return time.perf_counter() - start

    floor, taken = interleaved(lambda: bare_seconds(path), subject, min(runs, 3))
    few, many = (peak(cache, book) for book in (_year(cache, YEAR // 10), path))
    return [
        Figure(
            f"inspection packet as PDF, a year of 5,000 records, {pages:,} pages / bare canvas, same strings",
            f"{pages / floor:,.0f} pages a second",
            f"{pages / taken:,.0f} pages a second",
            floor / taken,
            0.5,
            at_least=True,
        ),
        Figure(
            "peak memory of that as a command / a tenth of the records",
            f"{few / 1024:,.0f} MiB",
            f"{many / 1024:,.0f} MiB",
            many / few,
            MOST_MEMORY,
        ),
    ]


def peak(cache: Cache, book: Path) -> int:
    """Return the peak of resident memory of a packet made as a command, in KiB."""
    command = swathbook("--book", cache.copy(book), "--json", "inspect", "--out", cache.folder / "packet.pdf")
    told = subprocess.run([sys.executable, "-c", _PEAK, *map(str, command)], check=True, capture_output=True)
    return int(told.stdout)


def _year(cache: Cache, applications: int) -> Path:
    firm = make_firm(YEAR_SITES, 20, 5)
    return cache.get(f"packet-{applications}.db", lambda path: make_unchecked(path, firm, applications))


def first_byte(book: Path, words: Sequence[str]) -> tuple[float, float]:
    """Return the seconds until an inspection prints anything, and until it tells how many records there are.

    The command is then stopped.

    Raises:
        RuntimeError: it printed nothing.
    """
    environment = {key: value for key, value in os.environ.items() if not key.startswith(("SWATHBOOK_", "PYTHON"))}
    command = swathbook("--book", book, "inspect", *words)
    start = time.perf_counter()
    with subprocess.Popen(
        [str(part) for part in command], stdout=subprocess.PIPE, bufsize=0, env=environment
    ) as process:
        assert process.stdout is not None
        told = process.stdout.read(1)
        first = time.perf_counter() - start
        for line in process.stdout:
            told += line
            if _COUNT.match(line):
                break
        counted = time.perf_counter() - start
        process.kill()
    if not told:
        raise RuntimeError(f"inspect {' '.join(words)} printed nothing")
    return first, counted


def first_byte_figures(cache: Cache, runs: int) -> list[Figure]:
    """Measure how soon each of many questions to a big book is answered."""
    path = cache.get(f"packet-{MANY}.db", make_many)
    start = [first_byte_of_help() for _ in range(max(2, min(runs, 5)))]
    figures, counts = [], []
    for words in QUERIES:
        taken, counted = zip(*(first_byte(path, words) for _ in range(max(2, min(runs, 5)))), strict=True)
        counts.append((median(counted), " ".join(("inspect", *words))))
        figures.append(
            Figure(
                f"first byte of `{' '.join(('inspect', *words))}`, {MANY:,} applications / 1 s",
                f"{median(start):.2f} s of it to start",
                f"{median(taken):.2f} s",
                median(taken) / WITHIN,
                1.0,
            )
        )
    slowest, words_of_it = max(counts)
    figures.append(
        Figure(
            f"until the number of records is told, the slowest of them: `{words_of_it}`",
            f"{median(start):.2f} s of it to start",
            f"{slowest:.2f} s",
            slowest,
            WITHIN,
            is_target=False,
        )
    )
    return figures


def first_byte_of_help() -> float:
    """Return the seconds of `inspect --help`."""
    return run(swathbook("inspect", "--help")).seconds


def make_many(path: Path, applications: int = MANY, sites: int = MANY_SITES) -> None:
    """Make a book of several seasons, composed and sealed without the checks; a million take minutes."""
    firm = make_firm(sites, 20, 5)
    seal_unchecked(make_loaded(path, firm), visits(firm, applications), applications)
