"""Imports one table into a book: read it all, then seal record by record, some hundreds to a transaction."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from records.errors import InputError
from records.services.importing.bodies import SourceLine, build
from records.services.importing.cells import CellError
from records.services.importing.lines import Line, LineReader, lacking
from records.services.importing.spool import Spool
from records.services.importing.tables import Row, Table, open_table
from records.services.importing.tally import Tally
from records.services.ports import Json, StoredRevision
from records.services.sealing import seal

if TYPE_CHECKING:
    from pathlib import Path

    from records.clock import Clock
    from records.services.importing.layout import Layout
    from records.services.ports import OpenBook, UnitOfWork

BATCH = 500
MOST_REFUSED = 100_000  # rows of a table that is mostly refused: each is remembered with its reason
Progress = Callable[[int, int], None]  # lines settled, lines read


def import_table(
    book: OpenBook,
    source: Path | bytes,
    name: str,
    layout: Layout,
    clock: Clock,
    progress: Progress | None = None,
    *,
    dry_run: bool = False,
) -> Tally:
    """Import a table; lines that an earlier import sealed are left alone, so it can be run again at any time.

    Args:
        book: to seal into.
        source: the file, or its content.
        name: of the file; only the base name is kept.
        layout: what its columns mean.
        clock: the time of entry; days after it are refused.
        progress: called now and then while records are sealed.
        dry_run: read and count everything, write nothing.

    Returns:
        Where every line went.

    Raises:
        InputError: the file is not a readable table; nothing was written.
        LayoutError: the file lacks what the layout names; nothing was written.
    """
    name = name.replace("\\", "/").rpartition("/")[2][:120] or "-"
    tally = Tally(layout.name, name, dry_run=dry_run, lacking=tuple(lacking(layout)))
    reader = LineReader(layout, clock.now())
    with Spool() as spool:
        spool.remember(_in_the_book(book))
        with open_table(source, name, layout) as table:
            for row in table.rows:
                _sort(row, table, reader, spool, tally)
                if len(tally.refused) > MOST_REFUSED and len(tally.refused) > tally.read // 2:
                    number, reason = tally.refused[0]
                    raise InputError(
                        f"{name}: more than {MOST_REFUSED:,} rows cannot be read, most of them; row {number}: {reason}",
                        "Is this the layout of that table?",
                    )
        bodies = _bodies(spool, reader, layout, tally, clock)
        if dry_run:
            for _ in bodies:
                pass
        else:
            _seal_all(book, bodies, tally, clock, progress)
    tally.check()
    return tally


def _in_the_book(book: OpenBook) -> Iterator[str]:
    """Yield the digests of the lines that earlier imports sealed."""
    with book.read() as unit:
        for revision in unit.records.walk():
            if revision.body["origin"]["kind"] == "import" and revision.revision == 1:
                for line in revision.body["document"]["lines"]:
                    yield line["digest"]


def _sort(row: Row, table: Table, reader: LineReader, spool: Spool, tally: Tally) -> None:
    """Put one row where it belongs: refused, not a use, duplicate, in the book already, or to be imported."""
    tally.read += 1
    if row.problem:
        tally.refused.append((row.number, row.problem))
        return
    try:
        cells = reader.cells(table.columns, row.cells)
        if reader.is_no_use(cells):
            tally.not_use.append((row.number, reader.no_use_period(cells)))
            return
        line = reader.read(cells)
    except CellError as error:
        tally.refused.append((row.number, str(error)))
        return
    digest = reader.digest(cells)
    first = spool.first(digest)
    if first is not None and reader.keeps_duplicates:
        digest, first = reader.digest(cells, spool.repeat(digest)), None
    if first is not None:
        tally.duplicate.append((row.number, first))
    elif spool.is_known(digest):
        tally.already += 1
        spool.add(row.number, digest, None, cells)
    else:
        _count_gaps(line, tally)
        spool.add(row.number, digest, reader.job_key(cells, line, digest), cells)


def _count_gaps(line: Line, tally: Tally) -> None:
    if not line.gaps:
        tally.complete += 1
        return
    tally.incomplete += 1
    for name in line.gaps:
        tally.gaps[name] = tally.gaps.get(name, 0) + 1


def _bodies(spool: Spool, reader: LineReader, layout: Layout, tally: Tally, clock: Clock) -> Iterator[Json]:
    """Yield the body of each record, counting as it goes."""
    missing, now = lacking(layout), clock.now().astimezone(UTC)
    for job in spool.jobs():
        lines = [SourceLine(item.row, item.digest, item.data, reader.read(item.data)) for item in job]
        body = build(lines, layout, tally.file, missing, now)
        tally.records += 1
        if body["kind"] == "usage":
            tally.periods += 1
        else:
            tally.visits += 1
        tally.applications += sum(len(treatment["applications"]) for treatment in body["treatments"])
        yield body


def _seal_all(book: OpenBook, bodies: Iterator[Json], tally: Tally, clock: Clock, progress: Progress | None) -> None:
    """Seal the records, a batch to a transaction: an interrupted import keeps whole batches and can be run again."""
    done = tally.read - tally.imported
    batch: list[Json] = []
    while True:
        batch = [body for _, body in zip(range(BATCH), bodies, strict=False)]
        if not batch:
            return
        with book.write() as unit:
            _seal_batch(unit, batch, tally, clock.now())
            unit.commit()
        done += sum(len(body["origin"]["rows"]) for body in batch)
        if progress is not None:
            progress(done, tally.read)


def _seal_batch(unit: UnitOfWork, batch: list[Json], tally: Tally, now: datetime) -> None:
    records = unit.records
    sealed_at = f"{now.astimezone(UTC):%Y-%m-%dT%H:%M:%S.%fZ}"
    previous = records.head()
    for body in batch:
        year = int(body["period"][:4])
        serial = f"{year}-{records.next_number(year):06d}"
        mark = seal(previous, serial, 1, sealed_at, body)
        records.append(StoredRevision(0, serial, 1, "sealed", sealed_at, previous, mark, body))
        previous = mark
        tally.serials[year] = (tally.serials.get(year, (serial, serial))[0], serial)
