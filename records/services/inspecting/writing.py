"""A packet as JSON and CSV, written as the records come; every cell is text, none is ever a formula."""

from __future__ import annotations

import csv
import io
import json
from typing import TYPE_CHECKING, Any, Protocol

from records.domain.report_model import Fact
from records.services.summarising import cell

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from records.domain.packet_model import PacketModel, RecordPart, RevisionPart, Table

SCHEMA = 1
LAST = "nutrients"  # section that only some packets have: its columns stand after all others, whose places so stay
RECORDS = "records"  # name of the section that holds one row for each product put out


class Target(Protocol):
    """Something that takes bytes, only ever forward."""

    def write(self, data: bytes, /) -> int:
        """Take them."""


def head_facts(model: PacketModel) -> list[Fact]:
    """Return what stands on the cover, for a sheet."""
    return [
        Fact("Title", model.title),
        Fact("Firm", model.firm.name),
        Fact("Firm's address", model.firm.address),
        Fact("Firm's phone", model.firm.phone),
        Fact("Firm's licence", model.firm.licence),
        Fact("Made on", model.issued_on),
        *model.asked,
        *model.counts,
        Fact("Last seal", model.last_seal),
        *([Fact("Seed", model.seed)] if model.seed else []),
        *(Fact("Caution", text) for text in model.cautions),
    ]


def _rows(table: Table) -> Iterator[dict[str, str]]:
    keys = [column.key for column in table.columns]
    for row in table.rows:
        yield dict(zip(keys, row, strict=True))


class PacketJson:
    """A packet as one JSON document."""

    def __init__(self, target: Target) -> None:
        """Write into a stream of bytes."""
        self._target = target
        self._is_first = True

    def _write(self, text: str) -> None:
        self._target.write(text.encode())

    def begin(self, model: PacketModel) -> None:
        """Write all but the records."""
        head = {
            "schema": SCHEMA,
            "kind": "inspection packet",
            "title": model.title,
            "issued_on": model.issued_on,
            "firm": firm_document(model),
            "question": {"words": model.words, **_keyed(model.asked)},
            "counts": _keyed(model.counts),
            "last_seal": model.last_seal,
            "seed": model.seed or None,
            "cautions": list(model.cautions),
        }
        self._write(_dumps(head)[:-1] + ',\n"sections": {')
        for number, table in enumerate(model.tables):
            about = {"title": table.title, "note": table.note}
            self._write((",\n" if number else "\n") + _dumps(table.key) + ": " + _dumps(about)[:-1] + ', "rows": [')
            for place, row in enumerate(_rows(table)):
                self._write((",\n " if place else "\n ") + _dumps(row))
            self._write("]}")
        self._write('},\n"records": [')

    def record(self, part: RecordPart) -> None:
        """Write one record."""
        self._write(("\n" if self._is_first else ",\n") + _dumps(record_document(part)))
        self._is_first = False

    def end(self) -> None:
        """Close the document."""
        self._write("]}\n")


def firm_document(model: PacketModel) -> dict[str, str]:
    """Return the firm as JSON."""
    firm = model.firm
    return {"name": firm.name, "address": firm.address, "phone": firm.phone, "licence": firm.licence}


def _dumps(value: Any) -> str:  # noqa: ANN401 - any JSON
    return json.dumps(value, ensure_ascii=False)


def _keyed(facts: Iterable[Fact]) -> dict[str, str]:
    return {fact.label.lower().replace(" ", "_"): fact.value for fact in facts}


def record_document(part: RecordPart) -> dict[str, Any]:
    """Return a record as JSON."""
    return {
        "serial": part.serial,
        "heading": part.heading,
        "standing": part.state,
        "judged_by": part.judged_by,
        "rule": [_fact(fact) for fact in part.rule],
        "other": [_fact(fact) for fact in part.other],
        "deviation": list(part.deviation),
        "findings": list(part.findings),
        "revisions": [_revision(revision) for revision in part.revisions],
        "applications": len(part.applications),
    }


def _fact(fact: Fact) -> dict[str, Any]:
    return {"what": fact.label, "value": fact.value} | ({"missing": True} if fact.missing else {})


def _revision(part: RevisionPart) -> dict[str, Any]:
    return {
        "revision": part.number,
        "action": part.action,
        "sealed_at": part.sealed_at,
        "by": part.who,
        "reason": part.reason,
        "seal": part.seal,
        "changes": [{"what": one.what, "before": one.before, "after": one.after} for one in part.changes],
    }


class PacketCsv:
    """A packet as one CSV file (RFC 4180): section after section; `section` and `line` say what a row belongs to."""

    def __init__(self, target: Target) -> None:
        """Write into a stream of bytes."""
        self._target = target
        self._text = io.StringIO(newline="")
        self._writer = csv.writer(self._text)
        self._keys: list[str] = []
        self._places: list[int] = []

    def begin(self, model: PacketModel) -> None:
        """Write all but the records."""
        self._text.write("\ufeff")  # tells spreadsheets that it is UTF-8
        first = [table for table in model.tables if table.key != LAST]
        keys = dict.fromkeys(column.key for table in first for column in table.columns)
        keys |= dict.fromkeys(column.key for column in model.columns)
        keys |= dict.fromkeys(column.key for table in model.tables for column in table.columns)
        self._keys = list(keys)
        self._writer.writerow(["section", "line", "fact", "value", *self._keys])
        blank = [""] * len(self._keys)
        for fact in head_facts(model):
            self._writer.writerow(["packet", "fact", fact.label, cell(fact.value), *blank])
        for table in model.tables:
            places = self._of([column.key for column in table.columns])
            for row in table.rows:
                self._row(table.key, places, row)
            self._flush()
        self._places = self._of([column.key for column in model.columns])

    def _of(self, keys: list[str]) -> list[int]:
        return [self._keys.index(key) for key in keys]

    def _row(self, section: str, places: list[int], row: Iterable[str]) -> None:
        cells = [""] * len(self._keys)
        for place, text in zip(places, row, strict=True):
            cells[place] = cell(text)
        self._writer.writerow([section, "row", "", "", *cells])

    def _flush(self) -> None:
        self._target.write(self._text.getvalue().encode())
        self._text.seek(0)
        self._text.truncate()

    def record(self, part: RecordPart) -> None:
        """Write one row for each product put out."""
        for row in part.applications:
            self._row(RECORDS, self._places, row)
        self._flush()

    def end(self) -> None:
        """Write what is left."""
        self._flush()
