"""Writes a part of a periodic report as CSV or XLSX.

A spreadsheet keeps a number as a binary one of 15 digits. Figures of no more are numbers in a sheet; longer ones are
text, so that no digit of a sum that has to agree to the last one is lost. ZIP codes and registration numbers stay text:
a number would take their zeros and their meaning.
"""

from __future__ import annotations

import csv
import io
import re
from fractions import Fraction
from typing import TYPE_CHECKING, Any

from records.domain.report_model import one_line
from records.services.periodic.layout import NUMBERS
from records.services.periodic.model import balance_cells, measure_of, measure_text
from records.services.periodic.words import is_exact
from records.services.summarising import cell, workbook_text

if TYPE_CHECKING:
    from collections.abc import Iterator

    from records.services.periodic.model import Part, Report

_TOLD = 32_000  # a cell of a sheet holds 32,767 characters
_DIGITS = 15  # a spreadsheet keeps so many of a number
_NUMBER = re.compile(r"\d+(?:\.\d+)?", re.ASCII)
_BALANCES = 3  # columns before the amounts of a balance


def cover_line(report: Report) -> str:
    """Return what a file has to say before its lines; "" where it is whole."""
    if not report.troubles:
        return ""
    serials = ", ".join(dict.fromkeys(one.serial for one in report.troubles))
    return f"INCOMPLETE: {report.left_out} applications are left out; see the records {serials}"


def csv_bytes(report: Report, part: Part) -> bytes:
    """Return a part as CSV (RFC 4180, UTF-8 with a mark that tells spreadsheets so).

    A report that leaves anything out says so in a line before its headings.
    """
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\r\n")
    if cover := cover_line(report):
        writer.writerow([cell(cover)])
    writer.writerow([cell(column.heading) for column in report.columns()])
    writer.writerows([cell(text) for text in row] for row in report.rows(part))
    return stream.getvalue().encode("utf-8-sig")


def xlsx_bytes(report: Report, part: Part) -> bytes:
    """Return a part as XLSX: the lines, and a second sheet about the report."""
    from openpyxl import Workbook  # noqa: PLC0415 - half a second that csv files do not need
    from openpyxl.styles import Font  # noqa: PLC0415 - the same

    book = Workbook(write_only=True)
    book.properties.creator = "swathbook"
    bold = Font(bold=True)

    lines = book.create_sheet("Report")
    columns, rows = report.columns(), report.rows(part)
    for index, column in enumerate(columns):
        longest = max([len(column.heading), *(len(row[index]) for row in rows[:500])])
        lines.column_dimensions[_letter(index)].width = min(max(longest + 2, 8), 48)
    lines.freeze_panes = "A2"
    lines.append([_cell(lines, column.heading, bold) for column in columns])
    figures = [column.source in NUMBERS for column in columns]
    for row in rows:
        lines.append([_cell(lines, text, number=is_figure) for text, is_figure in zip(row, figures, strict=True)])
    if total := _total(report, part):
        lines.append(
            [_cell(lines, text, bold, number=is_figure) for text, is_figure in zip(total, figures, strict=True)]
        )
    about = book.create_sheet("About")
    about.column_dimensions["A"].width = 34
    about.column_dimensions["B"].width = 60
    for index in range(2, 7):
        about.column_dimensions[_letter(index)].width = 16
    for number, row in enumerate(_about(report, part)):
        cells = [one_line(text, _TOLD) for text in row]
        about.append(
            [
                _cell(about, text, None if number else bold, number=index >= _BALANCES)
                for index, text in enumerate(cells)
            ]
        )
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def _cell(sheet: Any, text: str, font: Any = None, *, number: bool = False) -> Any:  # noqa: ANN401 - the library's cells have no usable type
    """Return a cell that is text whatever it looks like, no formula; a figure is a number where a sheet can hold it."""
    from openpyxl.cell import WriteOnlyCell  # noqa: PLC0415 - loaded with the rest of it

    made = WriteOnlyCell(sheet, value=workbook_text(text[:_TOLD]))
    # The library would write a number through a binary one of 16 digits, 0.009 as 0.008999...: its own digits go in.
    made.data_type = "n" if number and is_sheet_number(text) else "s"
    if made.data_type == "s":
        made.number_format = "@"
    if font is not None:
        made.font = font
    return made


def is_sheet_number(text: str) -> bool:
    """Tell whether a spreadsheet can hold a figure with every digit."""
    return _NUMBER.fullmatch(text) is not None and len(text.replace(".", "").strip("0")) <= _DIGITS


def _total(report: Report, part: Part) -> list[str]:
    """Return the cells of a last line with the sums of a part; none where they make no sense.

    What an agency asked for gets none: there every line is one use.
    """
    columns = report.columns()
    if report.asked is not None or not report.layout.has_total or len(part.lines) < 2:
        return []
    cells = []
    for column in columns:
        known = [measure_of(line, column.source) for line in part.lines] if column.source in NUMBERS else []
        values = [value for value in known if value is not None]
        is_one = column.source != "quantity" or len({line.unit for line in part.lines}) == 1
        cells.append(measure_text(sum(values, Fraction(0)), column.source) if values and is_one else "")
    cells[0] = cells[0] or "Total"
    return cells


def _letter(index: int) -> str:
    from openpyxl.utils import get_column_letter  # noqa: PLC0415 - loaded with the rest of it

    return str(get_column_letter(index + 1))


def _figures(report: Report, part: Part) -> str:
    """Say what of the lines a spreadsheet can sum up."""
    figures = [index for index, column in enumerate(report.columns()) if column.source in NUMBERS]
    cells = [row[index] for row in report.rows(part) for index in figures if not part.is_nil]
    long = sum(1 for text in cells if text and not is_sheet_number(text))
    here = f"{long} of them here" if long else "none of them here"
    return (
        f"numbers that a sheet can sum up; those of more than {_DIGITS} digits are text, which it passes over: {here}"
    )


def _about(report: Report, part: Part) -> Iterator[tuple[str, ...]]:
    firm, asked = report.business, report.asked
    yield report.layout.title, ""
    yield "Period", report.period
    if part.name:
        yield report.layout.split.capitalize(), part.name
    yield "Firm", "" if firm is None else f"{firm.name}, {firm.address}, {firm.phone}"
    yield "Firm's licence", "" if firm is None else firm.licence
    yield "Issued", report.issued_on.isoformat()
    if asked is not None and report.due is not None:
        yield "Due", f"{report.due} to {asked[1].to}"
        yield "Rule", asked[1].source.cited
    for name, known in report.layout.lists.items():
        yield name.replace("_", " ").capitalize(), f"{known.source}, {known.url}, read {known.seen}"
    yield "Lines", "none: nothing was applied" if part.is_nil else str(len(part.lines))
    yield "Not asked for", "; ".join(f"{count} {why}" for why, count in report.why_other.items()) or "nothing"
    yield "Left out", f"{report.left_out} applications" if report.troubles else "nothing"
    agrees = report.reconciliation.agrees
    yield "Annual summary", "every sum is equal to the last digit" if agrees else "DIFFERS: do not hand this in"
    yield "Figures", _figures(report, part)
    numbers = (
        measure_of(line, column.source)
        for line in part.lines
        for column in report.columns()
        if column.source in NUMBERS
    )
    if not all(value is None or is_exact(value) for value in numbers):
        yield "Digits", "Amounts without a last digit in these units (grams in ounces) are rounded to nine decimals."
    yield "Last seal of the book", report.head
    yield "Caution", "The state's own form and text win over this sheet; it is an aid and no legal advice."
    yield ("",)
    yield "Product", "Registration number", "Unit", "In reports", "Not asked for", "Left out", "Annual summary"
    for balance in report.reconciliation.balances:
        yield balance.product, balance.registration, *balance_cells(balance)
    if report.troubles:
        yield ("",)
        yield "Left out: record", "Why", "What to do"
        for trouble in report.troubles:
            yield trouble.serial, trouble.message, trouble.do
