"""Looks at a workbook's parts before anything unpacks them: small files can unpack to more than a machine holds.

A workbook is a zip file of XML parts. Sheets and shared strings are read element by element, each row by itself; all
other parts are read whole, each element taking many times the memory that it takes as text.
"""

from __future__ import annotations

import re
import zipfile
from typing import IO, TYPE_CHECKING
from xml.etree.ElementTree import fromstring

from records.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Iterator

MAX_UNPACKED = 200_000_000
MAX_PARTS = 2_000
MAX_STEPS = 1_100_000  # rows of a sheet, or shared strings
MAX_WEIGHT = 1_000_000  # elements and attributes of one row, and of a part that is read whole
SMALL = 2_000_000  # bytes; whatever it was packed to, that much is soon read
MAX_RATIO = 150  # bytes for each packed one; tables of one row repeated reach 60
_CHUNK = 1_000_000
_CONTENTS = "[Content_Types].xml"
_IN_STEPS = re.compile(r"xl/(?:worksheets/[^/]+|sharedStrings)\.xml")
_STEP = re.compile(rb"<(?:\w+:)?(?:row|si)\b")
# A workbook needs no document type; one is only good for entities that grow. Written in UTF-8 or in UTF-16.
_DOCTYPES = (b"<!DOCTYPE", "<!DOCTYPE".encode("utf-16-le"), "<!DOCTYPE".encode("utf-16-be"))
_HINT = "Save the sheet as csv"


def weigh(stream: IO[bytes], name: str) -> None:
    """Refuse what is no workbook, or one that would take too much memory or time to be read.

    Args:
        stream: the file.
        name: of it, for messages.

    Raises:
        InputError: why it is not read.
        OSError, ValueError, LookupError, zipfile.BadZipFile and others: it is damaged.
    """
    with zipfile.ZipFile(stream) as archive:
        parts = archive.infolist()
        if _CONTENTS not in archive.namelist():
            raise InputError(f"{name} is a zip file but no .xlsx workbook")
        size = sum(part.file_size for part in parts)
        if size > MAX_UNPACKED or len(parts) > MAX_PARTS:
            raise InputError(
                f"{name} would unpack to {size:,} bytes in {len(parts):,} parts, more than is read from a workbook",
                _HINT,
            )
        for part in parts:
            is_picture = part.filename.startswith("xl/media/")  # may be one colour all over
            if part.file_size > max(SMALL, MAX_RATIO * part.compress_size) and not is_picture:
                told = f"{part.file_size:,} bytes packed to {part.compress_size:,}"
                raise InputError(f"{name} holds {told}, as no table is", _HINT)
            with archive.open(part) as content:
                _weigh_part(content, name, in_steps=_IN_STEPS.fullmatch(part.filename) is not None)
        for part in parts:
            if part.filename == _CONTENTS or part.filename.endswith(".rels"):
                _check_references(archive.read(part), name)


def _pieces(content: IO[bytes]) -> Iterator[bytes]:
    """Yield a part in pieces that end before a tag."""
    left = b""
    while chunk := content.read(_CHUNK):
        data = left + chunk
        cut = max(data.rfind(b"<"), 0)
        left = data[cut:] if cut else b""
        yield data[:cut] if cut else data
    yield left


def _weigh_part(content: IO[bytes], name: str, *, in_steps: bool) -> None:
    steps = weight = 0
    for piece in _pieces(content):
        if any(mark in piece for mark in _DOCTYPES):
            raise InputError(f"{name} holds a document type declaration, which no workbook needs")
        for number, step in enumerate(_STEP.split(piece) if in_steps else (piece,)):
            if number:
                steps, weight = steps + 1, 0
            weight += step.count(b"<") + step.count(b"=")
            if weight > MAX_WEIGHT or steps > MAX_STEPS:
                what = f"more than {MAX_STEPS:,} rows or texts" if steps > MAX_STEPS else "too much in one row or part"
                raise InputError(f"{name} holds {what}", _HINT)


def _check_references(content: bytes, name: str) -> None:
    """Refuse a workbook that has a part read whole in the place of one that is read step by step."""
    for one in fromstring(content):  # noqa: S314 - small, and without a document type
        told = f"{one.get('ContentType', '')}{one.get('Type', '')}".lower()
        place = f"{one.get('PartName', '')}{one.get('Target', '')}"
        if ("sheet.main" in told or "macroenabled" in told or "chartsheet" in told or "template" in told) and (
            "worksheets/" in place or "sharedStrings" in place
        ):
            raise InputError(f"{name} is a damaged workbook", "Open and save it again, or save the sheet as csv")
