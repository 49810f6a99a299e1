"""The season's tables as JSON, CSV and a workbook: bare numbers, to be summed and sorted."""

from __future__ import annotations

import csv
import io
from typing import TYPE_CHECKING, Any

from records.services.periodic.writing import is_sheet_number
from records.services.summarising import cell, workbook_text

if TYPE_CHECKING:
    from records.services.ports import Json
    from records.services.season.build import Season


def season_document(season: Season) -> Json:
    """Return the season as a JSON document; numbers are exact text."""
    return {
        "schema": 1,
        "kind": "season",
        "year": season.year,
        "firm": season.firm,
        "issued_on": season.issued_on,
        "last_seal": season.last_seal,
        "totals": dict(season.figures),
        "printed": {fact.label: fact.value for fact in season.facts},
        "sections": {
            table.key: {
                "title": table.title,
                "rows": [dict(zip(table.keys, row, strict=True)) for row in table.figures],
                "note": table.note,
            }
            for table in season.sections
        },
        "notes": list(season.notes),
        "cautions": list(season.cautions),
    }


def _head(season: Season) -> list[tuple[str, str]]:
    return [
        ("season", str(season.year)),
        ("firm", season.firm),
        ("issued_on", season.issued_on),
        ("last_seal", season.last_seal),
        *((key, value or "") for key, value in season.figures.items()),
    ]


def season_csv(season: Season) -> str:
    """Return the season as one CSV text (RFC 4180): `section` says what a row belongs to."""
    keys = list(dict.fromkeys(key for table in season.sections for key in table.keys))
    target = io.StringIO()
    writer = csv.writer(target)
    writer.writerow(["section", "fact", "value", *keys])
    for key, value in _head(season):
        writer.writerow(["season", key, cell(value), *[""] * len(keys)])
    for table in season.sections:
        for row in table.figures:
            found = dict(zip(table.keys, row, strict=True))
            writer.writerow([table.key, "", "", *(cell(found.get(key) or "") for key in keys)])
    return target.getvalue()


def season_xlsx(season: Season) -> bytes:
    """Return the season as a workbook: a sheet of facts, and one for each table; numbers are numbers."""
    from openpyxl import Workbook  # noqa: PLC0415 - half a second that other formats do not need

    book = Workbook(write_only=True)
    book.properties.creator = "swathbook"
    sheet = book.create_sheet("Season")
    sheet.column_dimensions["A"].width, sheet.column_dimensions["B"].width = 30, 60
    for key, value in _head(season):
        sheet.append([_cell(sheet, key), _cell(sheet, value)])
    for line in (*season.notes, *season.cautions):
        sheet.append([_cell(sheet, line)])
    for table in season.sections:
        sheet = book.create_sheet(table.title[:31])
        sheet.freeze_panes = "A2"
        sheet.append([_cell(sheet, key) for key in table.keys])
        for row in table.figures:
            sheet.append([None if text is None else _cell(sheet, text) for text in row])
        if table.note:
            sheet.append([_cell(sheet, table.note)])
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def _cell(sheet: Any, text: str) -> Any:  # noqa: ANN401 - the library's cells have no usable type
    """Return a cell: a number where the sheet can hold all its digits, else text whatever it looks like."""
    from openpyxl.cell import WriteOnlyCell  # noqa: PLC0415 - loaded with the rest of it

    made = WriteOnlyCell(sheet, value=workbook_text(text))
    # The library would write a number through a binary one of 16 digits: its own digits go in.
    made.data_type = "n" if is_sheet_number(text) else "s"
    return made
