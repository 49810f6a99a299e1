"""What has to hold of everything that leaves the tool, whatever went in."""

from __future__ import annotations

import csv
import io
import json
import re
import zipfile
from typing import Any

from icalendar import Calendar
from openpyxl import load_workbook
from pypdf import PdfReader
from pypdf.generic import ArrayObject, DictionaryObject, IndirectObject

TURNING = set("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069\u200e\u200f\u061c\u2028\u2029")
ACTIVE = {
    "/Annots",
    "/Annot",
    "/URI",
    "/A",
    "/AA",
    "/OpenAction",
    "/JavaScript",
    "/JS",
    "/Launch",
    "/GoToR",
    "/SubmitForm",
    "/Image",
    "/EmbeddedFile",
    "/EmbeddedFiles",
    "/RichMedia",
    "/AcroForm",
    "/XFA",
}
LEADS = ("=", "+", "-", "@", "\t", "\r", "\n")


def screen(text: str) -> None:
    """Nothing that steers a terminal, besides line breaks."""
    steering = [ascii(char) for char in text if (ord(char) < 32 and char != "\n") or 0x7F <= ord(char) < 0xA0]
    assert not steering, (steering[:5], text[:300])
    assert not set(text) & TURNING, text[:300]
    assert not [char for char in text if 0xD800 <= ord(char) < 0xE000]
    assert "Traceback" not in text


def one_line(text: str) -> None:
    """One line of an error."""
    screen(text)
    assert text.startswith("swathbook: "), text[:300]
    assert text.count("\n") == 1, text[:600]
    assert "unexpected trouble" not in text, text


def pdf(data: bytes) -> PdfReader:
    """Nothing on its pages does anything: no link, no action, no script, no picture, no form."""
    reader = PdfReader(io.BytesIO(data))
    seen: set[int] = set()
    waiting: list[Any] = [reader.trailer]
    while waiting:
        item = waiting.pop()
        if isinstance(item, IndirectObject):
            if item.idnum in seen:
                continue
            seen.add(item.idnum)
            item = item.get_object()
        if isinstance(item, DictionaryObject):
            names = set(item) | {value for value in item.values() if isinstance(value, str)}
            assert not names & ACTIVE, names & ACTIVE
            waiting.extend(item.values())
        elif isinstance(item, ArrayObject):
            waiting.extend(item)
    assert reader.pages
    return reader


def sheet(data: bytes) -> None:
    """No formula, no link, no macro; every part is XML without a document type."""
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        for name in archive.namelist():
            content = archive.read(name)
            assert b"<!DOCTYPE" not in content
            assert not re.search(rb"<f[ >/]|<hyperlink|externalLink|vbaProject|ddeLink|oleObject", content), name
    book = load_workbook(io.BytesIO(data))
    for one in book.worksheets:
        for row in one.iter_rows():
            for cell in row:
                assert cell.data_type in {"s", "n", "inlineStr"}, (cell.coordinate, cell.value)
                assert cell.hyperlink is None


def table(data: bytes) -> None:
    """No cell begins as a formula does."""
    for row in csv.reader(io.StringIO(data.decode("utf-8-sig"), newline="")):
        for cell in row:
            assert not cell.startswith(LEADS), cell
            assert not [char for char in cell if ord(char) < 32 and char != "\n"], cell


def document(data: bytes) -> Any:  # noqa: ANN401
    """JSON that reads back, in characters that may be shown."""
    text = data.decode()
    read = json.loads(text)
    assert json.loads(json.dumps(read)) == read
    return read


def calendar(data: bytes) -> None:
    """Events as they were made, none smuggled in; one line each of at most 75 bytes."""
    lines = data.split(b"\r\n")
    assert all(len(line) <= 75 for line in lines)
    assert not re.search(rb"[\x00-\x09\x0b\x0c\x0e-\x1f\x7f]", data)
    made = Calendar.from_ical(data)
    events = made.walk("VEVENT")
    assert lines.count(b"BEGIN:VEVENT") == len(events)
    assert lines.count(b"BEGIN:VALARM") == len(events)
    for event in events:
        assert set(event) <= {"UID", "DTSTAMP", "DTSTART", "DTEND", "SUMMARY", "DESCRIPTION", "TRANSP"}


CHECKS = {".pdf": pdf, ".xlsx": sheet, ".csv": table, ".json": document, ".ics": calendar}
