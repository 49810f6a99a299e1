"""PDF, CSV, XLSX and JSON of one packet say the same; what a record holds is data in each of them."""

from __future__ import annotations

import csv
import io
import json
import re
from datetime import date
from typing import TYPE_CHECKING, Any

import pytest
from openpyxl import load_workbook
from pypdf import PdfReader

from records.errors import UsageError
from records.reports.packet import PacketPdf
from records.services.inspecting.packet import open_packet
from records.services.inspecting.request import Request
from records.services.inspecting.sheets import PacketXlsx
from records.services.inspecting.writing import PacketCsv, PacketJson
from tests.inspect.conftest import HOSTILE, STEERING, fill
from tests.kit import Kit, days_after

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from records.domain.packet_model import PacketModel, PacketSink

Made = dict[str, bytes]
SHOWN = '=HYPERLINK("x")<b>Evil</b> \U0001f331 & Sons\ufffd[31m\ufffd STOP'  # what steers is made visible, lines joined


class Forward(io.BytesIO):
    """A file that can only be written forward, as a pipe."""

    def seek(self, *_: object) -> int:
        raise io.UnsupportedOperation

    def seekable(self) -> bool:
        return False

    def tell(self) -> int:
        raise io.UnsupportedOperation


SINKS: dict[str, Callable[[Forward], PacketSink]] = {
    "pdf": lambda target: PacketPdf(target, "letter"),
    "csv": PacketCsv,
    "xlsx": PacketXlsx,
    "json": PacketJson,
}


def make(kit: Kit, request: Request | None = None, kinds: tuple[str, ...] = tuple(SINKS)) -> tuple[PacketModel, Made]:
    """Return a packet as a model and as files."""
    targets = {kind: Forward() for kind in kinds}
    with kit.book.read() as work:
        packet = open_packet(work, request or Request())
        model = packet.gather(date(2026, 7, 15))
        sinks = [SINKS[kind](target) for kind, target in targets.items()]
        for sink in sinks:
            sink.begin(model)
        for part in packet.records():
            for sink in sinks:
                sink.record(part)
        for sink in sinks:
            sink.end()
    return model, {kind: target.getvalue() for kind, target in targets.items()}


def csv_rows(data: bytes) -> list[dict[str, str]]:
    """Return the rows of a CSV file."""
    return list(csv.DictReader(io.StringIO(data.decode("utf-8-sig"), newline="")))


def plain(text: str) -> str:
    """Return a CSV cell without the mark that keeps it from being a formula."""
    return text.removeprefix("'")


def cells(sheet: Any) -> list[tuple[str, ...]]:  # noqa: ANN401 - a sheet
    """Return the rows of a sheet below its head; every cell is text."""
    found = []
    for row in sheet.iter_rows(min_row=2):
        assert {cell.data_type for cell in row if cell.value is not None} <= {"s"}
        found.append(tuple(cell.value or "" for cell in row))
    return found


def pages(data: bytes) -> list[str]:
    """Return the text of the pages of a PDF."""
    return [page.extract_text() for page in PdfReader(io.BytesIO(data)).pages]


def test_the_tables_agree_to_the_cell(kit: Kit) -> None:
    """Each row of each table stands in CSV, XLSX and JSON, in the same order, with the same strings."""
    model, made = make(kit)
    told = json.loads(made["json"])
    book = load_workbook(io.BytesIO(made["xlsx"]))
    lines = csv_rows(made["csv"])
    for table in model.tables:
        keys, rows = [column.key for column in table.columns], list(table.rows)
        assert rows or table.key == "told"  # nothing was handed over in this book
        assert [tuple(row[key] for key in keys) for row in told["sections"][table.key]["rows"]] == rows
        assert cells(book[table.key]) == rows
        of_table = [line for line in lines if line["section"] == table.key]
        assert [tuple(plain(line[key]) for key in keys) for line in of_table] == rows


def test_the_records_agree(kit: Kit) -> None:
    """One row for each product put out, in both sheets; JSON counts the same; PDF heads each record once."""
    model, made = make(kit)
    told = json.loads(made["json"])
    keys = [column.key for column in model.columns]
    of_csv = [tuple(plain(line[key]) for key in keys) for line in csv_rows(made["csv"]) if line["section"] == "records"]
    of_xlsx = cells(load_workbook(io.BytesIO(made["xlsx"]))["records"])
    assert of_csv == of_xlsx
    assert len(of_csv) == sum(record["applications"] for record in told["records"]) == 10  # 7 that stand, 3 voided
    serials = [record["serial"] for record in told["records"]]
    assert list(dict.fromkeys(row[0] for row in of_csv)) == serials == [f"2026-{number:06d}" for number in range(1, 9)]
    assert {row[0]: row[2] for row in of_csv} == {one["serial"]: one["standing"] for one in told["records"]}
    text = "\n".join(pages(made["pdf"]))
    for record in told["records"]:
        assert f"{record['serial']}" in text
        for revision in record["revisions"]:
            assert revision["seal"] in re.sub(r"\n", "", text)


def test_the_cover_agrees(kit: Kit) -> None:
    """Who asked, counts, last seal and seed, the same in all four."""
    model, made = make(kit, Request(random=5, seed="48213377", asked_by="R. Ames, state inspector", credentials="B 7"))
    told = json.loads(made["json"])
    of_csv = {line["fact"]: plain(line["value"]) for line in csv_rows(made["csv"]) if line["section"] == "packet"}
    of_xlsx = {row[0]: row[1] for row in cells(load_workbook(io.BytesIO(made["xlsx"]))["packet"])}
    first = pages(made["pdf"])[0]
    assert of_csv.keys() == of_xlsx.keys()
    for fact in (*model.asked, *model.counts):
        key = fact.label.lower().replace(" ", "_")
        assert of_csv[fact.label] == of_xlsx[fact.label] == fact.value
        assert (told["counts"].get(key) or told["question"][key]) == fact.value
        assert fact.value in first
    assert told["seed"] == of_csv["Seed"] == of_xlsx["Seed"] == model.seed == "48213377"
    assert told["last_seal"] == of_csv["Last seal"] == of_xlsx["Last seal"] == model.last_seal
    assert model.last_seal in first
    assert "SHA-256" in first
    assert [record["serial"][-1] for record in told["records"]] == ["1", "3", "4", "5", "8"]


def test_what_a_record_holds_is_data(kit: Kit) -> None:
    """No formula, no markup, no control code: it is written as the text that it is."""
    _, made = make(kit, Request(customer="odd"))
    told = json.loads(made["json"])
    facts = {fact["what"]: fact["value"] for fact in (*told["records"][0]["rule"], *told["records"][0]["other"])}
    assert facts["Customer"] == HOSTILE
    assert facts["Remarks"] == SHOWN
    assert "\\u001b" not in made["json"].decode()
    (line,) = [line for line in csv_rows(made["csv"]) if line["section"] == "records"]
    assert line["customer_name"] == f"'{HOSTILE}"
    assert line["remarks"] == f"'{SHOWN}"
    book = load_workbook(io.BytesIO(made["xlsx"]))
    (row,) = cells(book["records"])
    assert HOSTILE in row
    assert SHOWN in row
    text = "\n".join(pages(made["pdf"]))
    assert '=HYPERLINK("x")<b>Evil</b> [U+1F331] & Sons' in text
    for data in (made["csv"].decode(), text):
        assert not re.search("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u202e]", data)
    assert "\x1b" in STEERING


def test_the_same_packet_gives_the_same_bytes(kit: Kit) -> None:
    """Nothing in the PDF, CSV or JSON hangs on the moment it was made."""
    kinds = ("pdf", "csv", "json")
    assert make(kit, kinds=kinds)[1] == make(kit, kinds=kinds)[1]


@pytest.mark.parametrize(("paper", "size"), [("letter", (612, 792)), ("a4", (595.276, 841.89))])
def test_the_pdf_is_whole(kit: Kit, paper: str, size: tuple[float, float]) -> None:
    """Every page numbered and footed; heads repeated; it says what it is; a strict reader finds no fault."""
    target = Forward()
    with kit.book.read() as work:
        packet = open_packet(work, Request())
        sink = PacketPdf(target, paper)
        sink.begin(packet.gather(date(2026, 7, 15)))
        for part in packet.records():
            sink.record(part)
        sink.end()
    made = PdfReader(io.BytesIO(target.getvalue()), strict=True)
    texts = [page.extract_text() for page in made.pages]
    assert len(texts) == sink.pages > 4
    for number, text in enumerate(texts, 1):
        assert f"Page {number}" in text
        assert f"of {len(texts)}" in text
        assert "Last seal: " in text
    assert {(float(page.mediabox.width), float(page.mediabox.height)) for page in made.pages} == {size}
    assert made.metadata is not None
    assert made.metadata.title == "Records inspection packet"
    if paper == "letter":  # where a record happens to run over
        assert any(", continued" in text for text in texts)


def test_no_other_paper() -> None:
    """A paper nobody has is refused before anything is drawn."""
    with pytest.raises(UsageError):
        PacketPdf(Forward(), "foolscap")


def test_the_matrix_repeats_its_head(tmp_path: Path) -> None:
    """A completeness table over several pages has its codes on each of them."""
    kit = Kit.at(tmp_path)
    for number in range(150):
        kit.sealed(days_after("2026-04-01", number), site="mill-9", lot=f"L{number}")
    model, made = make(kit, kinds=("pdf",))
    codes = " ".join(model.table("completeness").codes.values())  # type: ignore[union-attr]
    heads = [text for text in pages(made["pdf"]) if codes in text.replace("\n", " ")]
    assert len(heads) >= 3


def test_an_empty_packet_is_whole(kit: Kit) -> None:
    """Nothing found is told on paper and in the sheets."""
    _, made = make(kit, Request(since=date(2025, 1, 1), until=date(2025, 12, 31)))
    text = "\n".join(pages(made["pdf"]))
    assert "Records (0)" in text
    assert "No record matches what was asked" in text
    assert json.loads(made["json"])["records"] == []
    assert cells(load_workbook(io.BytesIO(made["xlsx"]))["records"]) == []
    assert [line for line in csv_rows(made["csv"]) if line["section"] == "records"] == []


def test_filling_is_repeatable(tmp_path: Path, kit: Kit) -> None:
    """Two books filled alike give the same records; only so do the other tests mean anything."""
    other = Kit.at(tmp_path / "..")
    fill(other)
    assert make(other, kinds=("csv",))[1] == make(kit, kinds=("csv",))[1]
