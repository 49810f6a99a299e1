"""A packet as a workbook, written as the records come; every cell is text, none is ever a formula."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.cell.cell import ERROR_CODES

from records.services.inspecting.writing import RECORDS, head_facts
from records.services.summarising import workbook_text

if TYPE_CHECKING:
    from collections.abc import Iterable

    from records.domain.packet_model import PacketModel, RecordPart
    from records.services.inspecting.writing import Target

_LONGEST_TITLE = 31  # characters of a sheet's name
_LONGEST_CELL = 32_000  # characters; the format allows 32,767


class PacketXlsx:
    """A packet as a workbook: one sheet for each section, text only."""

    def __init__(self, target: Target) -> None:
        """Write into a stream of bytes."""
        self._target = target
        self._book = Workbook(write_only=True)
        self._sheet: Any = None

    def _add(self, title: str, head: Iterable[str]) -> Any:  # noqa: ANN401 - a sheet that can only be written
        sheet = self._book.create_sheet(title[:_LONGEST_TITLE])
        sheet.freeze_panes = "A2"
        sheet.append(list(head))
        self._sheet = sheet
        return sheet

    def _append(self, row: Iterable[str]) -> None:
        self._sheet.append([self._cell(text) for text in row])

    def _cell(self, text: str) -> Any:  # noqa: ANN401 - text, or a cell that says that it is text
        if len(text) > _LONGEST_CELL:
            text = f"{text[:_LONGEST_CELL]} ..."
        text = workbook_text(text)
        if text.startswith("=") or text in ERROR_CODES:
            made = WriteOnlyCell(self._sheet, text)
            made.data_type = "s"
            return made
        return text

    def begin(self, model: PacketModel) -> None:
        """Write all but the records."""
        self._add("packet", ("Fact", "Value"))
        for fact in head_facts(model):
            self._append((fact.label, fact.value))
        for table in model.tables:
            self._add(table.key, (column.title for column in table.columns))
            for row in table.rows:
                self._append(row)
        self._add(RECORDS, (column.title for column in model.columns))

    def record(self, part: RecordPart) -> None:
        """Write one row for each product put out."""
        for row in part.applications:
            self._append(row)

    def end(self) -> None:
        """Write the file."""
        self._book.save(self._target)
