"""Turns the lines of one job, or one line of a month, into the body that is sealed. What is not there stays null."""

from __future__ import annotations

import re
from dataclasses import dataclass
from hashlib import sha256
from typing import TYPE_CHECKING

from records.domain.findings import Code, Finding, Severity
from records.domain.product import ProductKind
from records.domain.quantities import Form
from records.domain.registration import CALIFORNIA_ONLY
from records.services.importing.cells import CellError, plain, read_number
from records.services.importing.lines import NOT_OF_A_MONTH, Line
from records.services.sealing import digest
from records.units import UNITS, Kind

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import datetime

    from records.services.importing.layout import Layout
    from records.services.ports import Json

_SAID = {
    "date": "the day",
    "started": "the start",
    "finished": "the end",
    "site": "the site",
    "applicator": "the applicator",
    "applicator.licence": "the applicator's licence number",
    "weather.wind_speed": "the wind speed",
    "weather.wind_from": "the wind direction",
    "weather.temperature": "the temperature",
    "targets": "the target pest",
    "name": "the product's name",
    "registration": "the registration number",
    "amount": "the amount of product",
    "area": "the treated area",
}
_OF_THE_VISIT = frozenset(name for name in _SAID if name not in {"targets", "name", "registration", "amount", "area"})


@dataclass(frozen=True, slots=True)
class SourceLine:
    """A line with the row and the cells it was read from."""

    row: int
    digest: str
    cells: Mapping[str, str]
    line: Line


def slug(text: str) -> str:
    """Return an id made of a text: lower-case letters, digits and hyphens; a long one is cut and told apart."""
    made = re.sub(r"[^\w]+|_+", "-", text.lower()).strip("-")
    if not made or len(made) > 60:
        made = f"{made[:50].strip('-')}-{sha256(text.encode()).hexdigest()[:8]}".strip("-")
    return made


def build(lines: Sequence[SourceLine], layout: Layout, file: str, missing: Sequence[str], now: datetime) -> Json:
    """Return the body of one record.

    Args:
        lines: of one job, in the order of the table.
        layout: they were read by.
        file: base name of the source.
        missing: what the source has no column for (`lines.lacking`).
        now: when it is entered.
    """
    head = lines[0].line
    when = head.when
    treatments, findings = _treatments(lines, layout)
    document = {
        "layout": layout.name,
        "lines": [{"row": item.row, "digest": item.digest, "cells": dict(item.cells)} for item in lines],
    }
    return {
        "schema": 1,
        "kind": "usage" if head.is_month else "visit",
        "ref": f"import-{digest(sorted(item.digest for item in lines))[:32]}",
        "document_digest": digest(document),
        "origin": {
            "kind": "import",
            "layout": layout.name,
            "file": file,
            "rows": [item.row for item in lines],
            "source": layout.source,
        },
        "business": None,
        "customer": _customer(lines),
        "site": _site(lines),
        "timezone": layout.timezone,
        "date": None if when.day is None else when.day.isoformat(),
        "period": when.period,
        "time": when.time or None,  # one time of unknown meaning, as typed; neither start nor end
        "started": when.started.document() if when.started else None,
        "finished": when.finished.document() if when.finished else None,
        "entered_at": f"{now:%Y-%m-%dT%H:%M:%SZ}",
        "late_days": 0,
        "applicator": _applicator(lines),
        "supervisor": None,
        "weather": _weather(head),
        "treatments": treatments,
        "follow_up": None,
        "confirmed": [],
        "remarks": "\n".join(dict.fromkeys(text for item in lines if (text := item.line.values.get("remarks")))),
        "findings": [
            finding.document() for finding in (*_visit_findings(lines, missing), *_lacking(head, missing), *findings)
        ],
        "deviation": None,
        "packs": [],
        "document": document,
    }


def _first(lines: Sequence[SourceLine], name: str) -> str | None:
    """Return the first line's text that fills a field."""
    return next((text for item in lines if (text := item.line.values.get(name))), None)


def _customer(lines: Sequence[SourceLine]) -> Json | None:
    name = _first(lines, "customer")
    if name is None:
        return None
    return {
        "id": slug(name), "name": name, "address": "", "phone": "", "email": "", "language": "en", "version": 0
    }  # fmt: skip


def _site(lines: Sequence[SourceLine]) -> Json | None:
    key, address = _first(lines, "site_id"), _first(lines, "site_address")
    places = {name: _first(lines, name) or "" for name in ("city", "county", "state", "zip")}
    if key is None and address is None and not any(places.values()):
        return None
    name = key or address
    return {"id": slug(name) if name else None, "address": address or "", **places, "version": 0}


def _applicator(lines: Sequence[SourceLine]) -> Json | None:
    name, number = _first(lines, "applicator"), _first(lines, "applicator_licence")
    if name is None and number is None:
        return None
    licence: Json | None = None
    if number is not None:
        kind = _first(lines, "applicator_licence_type")  # as the source has it
        licence = {
            "number": number, "state": _first(lines, "state"), "kind": kind, "categories": [], "from": None, "to": None
        }  # fmt: skip
    return {"id": slug(name or f"licence {number}"), "name": name or "", "licence": licence, "version": 0}


def _weather(line: Line) -> Json | None:
    found = {name: line.values.get(name) for name in ("wind_speed", "wind_from", "temperature", "humidity")}
    if not any(found.values()):
        return None
    return {**found, "measured_at": None, "source": None, "not_measured": {}}


def _treatments(lines: Sequence[SourceLine], layout: Layout) -> tuple[list[Json], list[Finding]]:
    """Put lines of one method, site type, area and target into one treatment; one line for each active into one."""
    treatments: dict[tuple[str | None, ...], Json] = {}
    applications: dict[tuple[str | None, ...], Json] = {}
    findings: list[Finding] = []
    for item in lines:
        line = item.line
        values = line.values
        key = (line.area, line.extent, *(values.get(name) for name in ("method", "site_kind", "target")))
        treatment = treatments.setdefault(key, _treatment(line))
        same = (*key, *_same_application(item, layout))
        if same in applications:
            _add_active(applications[same], line)
            continue
        application = _application(line)
        applications[same] = application
        treatment["applications"].append(application)
        place = f"treatments[{list(treatments).index(key)}].applications[{len(treatment['applications']) - 1}]"
        findings += _line_findings(line, place)
    return list(treatments.values()), findings


def _same_application(item: SourceLine, layout: Layout) -> tuple[str | None, ...]:
    """Return what the lines of one application share; lines that disagree about the product stay apart."""
    if not layout.application:
        return (str(item.row),)
    line, values = item.line, item.line.values
    return (
        *(item.cells.get(column) for column in layout.application),
        line.amount,
        line.registration,
        *(values.get(name) for name in ("product_id", "product", "lot")),
    )


def _targets(line: Line) -> list[str]:
    text = line.values.get("target", "")
    return [part for part in (" ".join(piece.split()) for piece in re.split(r"[;,]", text)) if part]


def _treatment(line: Line) -> Json:
    source = "entered" if line.area is not None else "described" if line.extent is not None else None
    return {
        "zones": [],
        "site_kind": line.values.get("site_kind"),
        "method": line.values.get("method"),
        "targets": _targets(line),
        "equipment": None,
        "spray": None,
        "area": None if line.area is None else f"{line.area} sq ft",
        "area_source": source,
        "extent": line.extent,
        "applications": [],
    }


def _application(line: Line) -> Json:
    count = line.values.get("applications", "")
    application: Json = {
        "product": _product(line),
        "label": None,
        "mix": None,
        "lot": line.values.get("lot"),
        "rate": None,  # where amount and area are given it follows from them; where not, nobody knows it
        "amount": line.amount,
        "area": None if line.area is None else f"{line.area} sq ft",
        "targets": _targets(line),
        "count": int(count) if re.fullmatch(r"[0-9]{1,6}", count) else None,  # applications summed in the line
        "actives": [],
    }
    _add_active(application, line)
    return application


def _add_active(application: Json, line: Line) -> None:
    name = line.values.get("active")
    if name is None:
        return
    pounds: str | None = None
    try:
        pounds = plain(read_number(line.values.get("active_pounds", "")))
    except CellError:
        pounds = None  # no readable number: the source line in the document still shows what there was
    content = line.values.get("active_content", "")
    application["actives"].append({"name": name, "as": "ai", "pounds": pounds})
    application["product"]["actives"].append({"name": name, "content": content, "as": "ai", "group": ""})


def _product(line: Line) -> Json:
    values = line.values
    name = values.get("product") or ""
    unit = (line.amount or "").partition(" ")[2]
    key = values.get("product_id") or line.registration or name
    is_liquid = bool(unit) and UNITS[unit].kind is Kind.VOLUME  # a weight may be of a liquid too: it tells nothing
    return {
        "id": slug(key),
        "version": 0,
        "name": name or f"(no name) {line.registration or key}",
        "registration": line.registration,
        "federal": line.federal,
        "exemption": "",
        "kind": (ProductKind.ADJUVANT if _is_california_only(line) else ProductKind.PESTICIDE).value,
        "type": "",
        "form": (Form.LIQUID if is_liquid else Form.UNKNOWN).value,
        "signal_word": "",
        "restricted_use": None,
        "actives": [],
    }


def _is_california_only(line: Line) -> bool:
    """Tell whether California's own number says adjuvant: product numbers from 50000 up (DPR product table)."""
    parts = line.registration.split("-")
    return (
        not line.format_note
        and not line.federal
        and len(parts) > 2
        and parts[1].isdigit()
        and int(parts[1]) >= CALIFORNIA_ONLY
    )


def _note(at: str, message: str, code: Code = Code.MISSING, found: str = "") -> Finding:
    return Finding(code, Severity.NOTE, at, message, found=found)


def _visit_findings(lines: Sequence[SourceLine], missing: Sequence[str]) -> list[Finding]:
    """Return the gaps of the job as a whole: those that every line of it has."""
    head = lines[0].line
    findings = []
    if head.is_month:
        findings.append(_note("date", f"the day is missing: the source gives the total of {head.when.period}"))
    findings += [
        _note(name, f"{said} is missing: {head.gaps[name]}")
        for name, said in _SAID.items()
        if name in _OF_THE_VISIT and name not in missing and all(name in item.line.gaps for item in lines)
    ]
    return findings


def _lacking(head: Line, missing: Sequence[str]) -> list[Finding]:
    """Return what the whole source has no column for."""
    findings = []
    for name in missing:
        if head.is_month and name in NOT_OF_A_MONTH:
            continue
        why = "the source has no column for it"
        if name in {"started", "finished"} and head.when.time:
            why = f"the source gives one time, {head.when.time}, and does not say whether start or end"
        at = name if name in _OF_THE_VISIT else f"treatments.applications.{name}"
        findings.append(_note(at, f"{_SAID[name]} is missing: {why}"))
    return findings


def _line_findings(line: Line, place: str) -> list[Finding]:
    findings = []
    for name, why in line.gaps.items():
        if name == "registration-format":
            at = f"{place}.product.registration"
            findings.append(_note(at, why, Code.REGISTRATION_FORMAT, line.registration))
        elif name not in _OF_THE_VISIT:
            at = f"{place}.product.{name}" if name in {"name", "registration"} else f"{place}.{name}"
            findings.append(_note(at, f"{_SAID[name]} is missing: {why}"))
    return findings
