"""The import of a whole book, told from a table by its first line."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

from records.cli.output import counted, say, say_json, wrapped
from records.cli.state import application, state_of

if TYPE_CHECKING:
    from typing import IO

    import typer

    from records.services.moving.ports import Extent

TABLE_LINE = 10_000  # bytes of a file said to be a table that are looked at


def import_whole(context: typer.Context, file: str, layout: str | None, *, dry_run: bool) -> int | None:
    """Import a file that is a book's export; return None where it is something else.

    Raises:
        UsageError: a book's export is to be read as a table.
        InputError: the file cannot be read, or a line of it is not as it should be.
        OverwriteError: the book is not empty.
    """
    from contextlib import nullcontext
    from pathlib import Path

    from records.errors import InputError, UsageError
    from records.services.moving.reading import MAX_LINE, is_export

    path = Path(file)
    try:
        # A pipe can be read once only: a table that comes through one is left to who reads tables
        if file != "-" and not (path.is_file() or (layout is None and path.is_fifo())):
            return None
        with nullcontext(sys.stdin.buffer) if file == "-" else path.open("rb") as stream:
            first = stream.readline(MAX_LINE + 1 if layout is None else TABLE_LINE)
            if not is_export(first):
                return None
            if layout is not None:
                raise UsageError(f"{file} is a book's export, and no table", "Leave --layout out")
            extent = _import(context, stream, "stdin" if file == "-" else file, first, dry_run=dry_run)
    except OSError as error:
        raise InputError(f"{file!r:.200} cannot be read: {error.strerror}", "Check its name") from error
    _tell(context, file, extent, dry_run=dry_run)
    return 0


def _import(context: typer.Context, stream: IO[bytes], name: str, first: bytes, *, dry_run: bool) -> Extent:
    from records.services.moving.importing import check_export, import_book

    if dry_run:
        return check_export(stream, name, first)
    from records.errors import BookMissingError
    from records.storage.restoring import import_new

    book = application(context).book()
    try:
        with book.read():
            pass
    except BookMissingError:
        return import_new(application(context).settings.book, stream, name, first)
    return import_book(book, stream, name, first)


def _tell(context: typer.Context, file: str, extent: Extent, *, dry_run: bool) -> None:
    book = str(application(context).book())
    if state_of(context).json:
        say_json({"schema": 1, "kind": "book", "book": book, "kept": not dry_run, **extent._asdict()})
        return
    what = "a book's export, proved line by line" if dry_run else f"a book's export, now the book {book}"
    say(wrapped(f"{file}: {what}", "    ", first=""))
    say(held_by(extent))
    say(f"last seal {extent.last_seal or 'none'}")


def held_by(extent: Extent) -> str:
    """Return how much a book holds, in lines."""
    removed = f", {extent.removed:,} removed with their years" if extent.removed else ""
    text = (
        f"{counted(extent.revisions, 'sealed revision')}{removed}, {counted(extent.catalogue, 'loaded version')}, "
        f"{counted(extent.held, 'held event')}"
    )
    return wrapped(text, "    ", first="")
