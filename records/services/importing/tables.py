"""Opens somebody else's table, csv or xlsx, as numbered rows of text. Nothing in it is trusted."""

from __future__ import annotations

import csv
import io
import warnings
import zipfile
import zlib
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import date, datetime, time
from decimal import Decimal
from typing import IO, TYPE_CHECKING

from records.errors import InputError, LayoutError
from records.services.importing.cells import CellError, clean, shown
from records.services.importing.weighing import weigh

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from records.services.importing.layout import Layout

SEPARATORS = {";": "semicolons", "\t": "tabs", "|": "bars", ",": "commas"}
MAX_LINE = 1_000_000
MAX_SKIPPED = 200_000_000  # characters of a line that is passed over; some inputs never end
MAX_COLUMNS = 1_000
MAX_SHEET_ROWS = 1_048_576
MAX_WIDE_ROWS = 1_000  # rows that reach beyond all columns of the header: each costs as much as hundreds of others
_UNREADABLE = (
    OSError,
    ValueError,
    LookupError,
    TypeError,
    AttributeError,
    SyntaxError,  # what the XML parser raises
    EOFError,
    RuntimeError,  # encrypted parts, and what is nested too deep
    MemoryError,
    ArithmeticError,
    zipfile.BadZipFile,
    zipfile.LargeZipFile,
    zlib.error,
)


@dataclass(frozen=True, slots=True)
class Row:
    """One row below the header: its number as a spreadsheet counts, and its cells or what is wrong with it."""

    number: int
    cells: tuple[str, ...]
    problem: str = ""


@dataclass(frozen=True, slots=True)
class Table:
    """A table's column names and its rows, read once, front to back."""

    columns: tuple[str, ...]
    rows: Iterator[Row]


@contextmanager
def open_table(source: Path | bytes, name: str, layout: Layout) -> Iterator[Table]:
    """Open a table; csv is read line by line, whatever its size.

    Args:
        source: a file, or its content.
        name: base name for messages.
        layout: says sheet, delimiter and encoding.

    Raises:
        InputError: no readable table (also while the rows are read).
        LayoutError: a sheet or column that the layout names is not there.
    """
    try:
        with _stream(source) as stream:
            start = stream.read(8)
            stream.seek(0)
            if start.startswith(b"PK\x03\x04"):
                try:
                    weigh(stream, name)
                except _UNREADABLE as error:
                    raise _damaged(name) from error
                stream.seek(0)
                with _sheet(stream, name, layout) as rows:
                    yield _table(rows, name, layout, padded=True)
            elif start.startswith(b"\xd0\xcf\x11\xe0"):
                raise InputError(
                    f"{name} is an old or password-protected spreadsheet", "Save it as .xlsx without password, or csv"
                )
            else:
                with io.TextIOWrapper(stream, encoding=_codec(layout), errors="strict", newline="") as text:
                    yield _table(_csv_rows(text, name, layout), name, layout)
    except OSError as error:
        raise InputError(f"{name} cannot be read: {error.strerror or error}") from error
    except UnicodeError as error:
        raise InputError(
            f"{name} is not {layout.encoding} text", "Save it as UTF-8, or say file.encoding in the layout"
        ) from error


def _stream(source: Path | bytes) -> IO[bytes]:
    return io.BytesIO(source) if isinstance(source, bytes) else source.open("rb")


def _codec(layout: Layout) -> str:
    return "utf-8-sig" if layout.encoding == "utf-8" else layout.encoding


def _table(rows: Iterator[Row], name: str, layout: Layout, *, padded: bool = False) -> Table:
    """Take the first row with text as the header and check it against the layout.

    Args:
        rows: all rows.
        name: of the file, for messages.
        layout: names the columns that have to be there.
        padded: whether a short row only has its last cells empty, as a sheet leaves them out.
    """
    for row in rows:
        if row.problem:
            raise InputError(f"{name}: the header cannot be read: {row.problem}")
        if any(cell.strip() for cell in row.cells):
            columns = _header(row.cells, name, layout)
            below = (later for later in rows if later.problem or any(later.cells))
            return Table(columns, (_fit(later, len(columns), padded=padded) for later in below))
    raise InputError(f"{name} is empty", "It needs a header row with the column names, and rows below it")


def _header(cells: tuple[str, ...], name: str, layout: Layout) -> tuple[str, ...]:
    if len(cells) > MAX_COLUMNS:
        raise InputError(f"{name} has {len(cells):,} columns, more than {MAX_COLUMNS:,}")
    try:
        columns = [clean(cell, "header") for cell in cells]
    except CellError as error:
        raise InputError(f"{name}: {error}") from error
    missing = [column for column in layout.needed() if column not in columns]
    if missing:
        found = ", ".join(shown(column) for column in columns[:30] if column)
        other = next((mark for mark in SEPARATORS if len(columns) == 1 and mark in cells[0]), None)
        hint = f". The cells look separated by {SEPARATORS[other]}: file.delimiter in the layout" if other else ""
        raise LayoutError(
            f"{name} has no column {', '.join(shown(column) for column in missing)}, which layout {layout.name} needs",
            f"Found: {found or 'no names at all'}{hint}",
        )
    doubled = [column for column in layout.needed() if columns.count(column) > 1]
    if doubled:
        raise LayoutError(f"{name} has two columns {shown(doubled[0])}", "Rename one of them")
    return tuple(
        f"{column}#{index + 1}" if columns.count(column) > 1 else column for index, column in enumerate(columns)
    )


def _fit(row: Row, width: int, *, padded: bool) -> Row:
    """Refuse a row with more or fewer cells than the header has names."""
    if row.problem or len(row.cells) == width:
        return row
    if len(row.cells) < width and padded:
        return Row(row.number, row.cells + ("",) * (width - len(row.cells)))
    if len(row.cells) < width:
        return Row(row.number, (), f"{len(row.cells)} cells where the header has {width}")
    if any(cell.strip() for cell in row.cells[width:]):
        return Row(row.number, (), f"{len(row.cells)} cells where the header has {width}: a separator in a cell?")
    return Row(row.number, row.cells[:width])


class _Lines:
    """Physical lines of a text, each bounded: an overlong one is dropped and remembered."""

    def __init__(self, text: IO[str]) -> None:
        self._text = text
        self.dropped = 0

    def __iter__(self) -> Iterator[str]:
        while line := self._text.readline(MAX_LINE):
            if len(line) == MAX_LINE and not line.endswith(("\n", "\r")):
                length = len(line)
                while rest := self._text.readline(MAX_LINE):
                    length += len(rest)
                    if length > MAX_SKIPPED:
                        raise InputError(f"a line of the table is longer than {MAX_SKIPPED:,} characters")
                    if rest.endswith(("\n", "\r")):
                        break
                self.dropped = length
                yield "\n"
            else:
                yield line


def _csv_rows(text: IO[str], name: str, layout: Layout) -> Iterator[Row]:
    lines = _Lines(text)
    reader = csv.reader(lines, delimiter=layout.delimiter, strict=True)
    number = 0
    while True:
        begun = reader.line_num
        number += 1
        try:
            cells = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            if reader.line_num > begun + 1 or "end of data" in str(error):
                raise InputError(
                    f"{name}: a quotation mark opened in line {begun + 1} is never closed", "Close it and import again"
                ) from error
            yield Row(number, (), f"the line cannot be split into cells: {error}")
            continue
        if lines.dropped:
            problem = f"the line is {lines.dropped:,} characters long, more than {MAX_LINE:,}"
            lines.dropped = 0
            yield Row(number, (), problem)
        else:
            yield Row(number, tuple(cells) if any(cell.strip() for cell in cells) else ())


def _damaged(name: str) -> InputError:
    return InputError(f"{name} is a damaged workbook", "Open and save it again, or save the sheet as csv")


@contextmanager
def _sheet(stream: IO[bytes], name: str, layout: Layout) -> Iterator[Iterator[Row]]:
    from openpyxl import load_workbook  # noqa: PLC0415 - half a second that csv files do not need

    damaged = _damaged(name)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it speaks of styles and validations, which are not read
        try:
            # data_only: a formula gives the value its author last saw, never its text.
            book = load_workbook(stream, read_only=True, data_only=True, keep_links=False)
            sheets = {sheet.title: sheet for sheet in book.worksheets}
        except _UNREADABLE as error:
            raise damaged from error
        with closing(book):
            wanted = sheets.get(layout.sheet)
            if wanted is None and len(sheets) == 1:
                wanted = next(iter(sheets.values()))
            if wanted is None:
                found = ", ".join(shown(title) for title in list(sheets)[:20])
                raise LayoutError(
                    f"{name} has no sheet {shown(layout.sheet)}, which layout {layout.name} reads", f"Found: {found}"
                )
            wanted.reset_dimensions()  # what the file says about its own size is not believed

            def rows() -> Iterator[Row]:
                wide = 0
                before: tuple[object, ...] | None = None
                try:
                    for number, values in enumerate(wanted.iter_rows(values_only=True), start=1):
                        if number > MAX_SHEET_ROWS:
                            raise damaged
                        if values is before:  # rows that are not there are one and the same empty row
                            continue
                        before = values
                        wide += len(values) > MAX_COLUMNS
                        if wide > MAX_WIDE_ROWS:
                            raise InputError(
                                f"{name}: more than {MAX_WIDE_ROWS:,} rows reach beyond column {MAX_COLUMNS:,}",
                                "Delete the empty columns, or save the sheet as csv",
                            )
                        yield _sheet_row(number, values, layout.decimal or ".")
                except _UNREADABLE as error:
                    raise damaged from error

            yield rows()


def _sheet_row(number: int, values: tuple[object, ...], decimal: str) -> Row:
    left = len(values) - values.count(None)
    cells: list[str] = []
    for value in values:
        if not left:
            break
        left -= value is not None
        cells.append(_cell(value, decimal))
    while cells and not cells[-1].strip():
        cells.pop()
    return Row(number, tuple(cells))


def _cell(value: object, decimal: str) -> str:  # noqa: PLR0911 - one for each type a sheet knows
    """Write a sheet's value as the text a csv file would have held; a true number gets the layout's decimal mark."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    if isinstance(value, float):
        # The sheet itself stores binary numbers; the shortest text that reads back the same is the number as typed.
        text = format(Decimal(repr(value)), "f")
        return text.rstrip("0").rstrip(".").replace(".", decimal) if "." in text else text
    if isinstance(value, datetime):
        if value.time() == time(0):
            return value.date().isoformat()
        return value.isoformat(" ", "minutes")
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, time):
        return value.isoformat("minutes")
    return str(value)
