"""Makes the books that are measured, once for each size, in a cache folder outside the tree."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import tempfile
from dataclasses import dataclass
from datetime import UTC
from pathlib import Path
from typing import TYPE_CHECKING

from records.clock import SystemClock
from records.rules.context import Context
from records.rules.packs import versions_of
from records.services.closing.body import compose
from records.services.closing.reading import read_visit
from records.services.closing.service import append_body, close_lines
from records.services.directory import Directory
from records.services.loading import load
from records.services.sealing import digest
from records.storage.migrate import upgrade
from records.storage.unit_of_work import SqlBook
from tests.bench.firm import Firm, Json, make_firm, visits

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

_BATCH = 1000


@dataclass(frozen=True, slots=True)
class Cache:
    """A folder of books and documents; its parts are named by what they hold and by the code that made them."""

    folder: Path

    def get(self, name: str, make: Callable[[Path], None]) -> Path:
        """Return a file, made when it is not there yet."""
        place = self.folder / f"{_stamp()}-{name}"
        if not place.exists():
            self.folder.mkdir(parents=True, exist_ok=True)
            draft = place.with_name(f"draft-{os.getpid()}-{place.name}")
            make(draft)
            draft.replace(place)
        return place

    def copy(self, source: Path) -> Path:
        """Return a copy that a measurement may change; the next one takes its place."""
        return shutil.copyfile(source, self.folder / "scratch.db")


def default_cache() -> Path:
    """Return the folder used when none is named."""
    return Path(tempfile.gettempdir()) / "swathbook-bench"


def _stamp() -> str:
    """Name the version of the book and of these generators, so that an old book is never measured."""
    here = Path(__file__)
    root = here.parents[2]
    texts = [here, here.with_name("firm.py"), *sorted((root / "migrations" / "versions").glob("*.py"))]
    texts += [root / "records" / "storage" / "mapping.py", root / "records" / "services" / "closing" / "body.py"]
    return hashlib.sha256(b"".join(text.read_bytes() for text in texts)).hexdigest()[:12]


def make_loaded(path: Path, firm: Firm) -> SqlBook:
    """Make a book that holds the firm and no visits.

    Raises:
        ValueError: the generated firm is not as `load` wants it.
    """
    upgrade(path)
    book = SqlBook(path)
    report = load(book, [("firm.json", json.dumps(firm.catalogue).encode())], SystemClock())
    if not report.ok:
        raise ValueError("\n".join(map(str, report.problems[:5])))
    return book


def write_lines(path: Path, firm: Firm, count: int) -> None:
    """Write visits as one JSON document a line."""
    with path.open("w", encoding="utf-8") as stream:
        for visit in visits(firm, count):
            stream.write(json.dumps(visit) + "\n")


def make_sealed(path: Path, firm: Firm, count: int) -> None:
    """Make a book of visits that were all checked and sealed.

    Raises:
        ValueError: one of them was not sealed.
    """
    book = make_loaded(path, firm)
    lines = (json.dumps(visit).encode() for visit in visits(firm, count))
    for outcome in close_lines(book, lines, SystemClock()):
        if outcome.status != "sealed":
            raise ValueError(f"not sealed: {outcome.error or outcome.findings}")


def make_unchecked(path: Path, firm: Firm, applications: int) -> None:
    """Make a book of one year with at least so many applications, composed and sealed without the checks."""
    seal_unchecked(make_loaded(path, firm), visits(firm, applications, years=1), applications)


def seal_unchecked(book: SqlBook, documents: Iterator[Json], applications: int) -> None:
    """Compose and seal visits without the checks until the book holds at least so many applications, or they end."""
    clock, done, last = SystemClock(), 0, False
    while done < applications and not last:
        with book.write() as work:
            directory = Directory(work.catalogue)
            for _ in range(_BATCH):
                document = next(documents, None)
                if document is None:
                    last = True
                    break
                body = _body(document, directory, clock)
                append_body(work, body, clock.now())
                done += sum(len(treatment["applications"]) for treatment in body["treatments"])
                if done >= applications:
                    break
            work.commit()


def _body(document: Json, directory: Directory, clock: SystemClock) -> Json:
    visit, _ = read_visit(document, directory)
    entered = visit.finished or clock.now()  # closed as it ended: nothing is late
    context = Context(entered.astimezone(UTC), versions_of("common"))
    return compose(visit, document, digest(document), [], context)


def big_firm() -> Firm:
    """Return the firm that is measured: 2,000 lawns, each visited five times a year; 20 products, 5 people."""
    return make_firm(2_000, 20, 5)
