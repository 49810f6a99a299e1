"""What became of an entry, and how a body gets into the chain."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from records.clock import instant_text
from records.services.ports import Json, StoredRevision, UnitOfWork
from records.services.sealing import sealed

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import datetime

    from records.errors import SignatureError
    from records.services.directory import Directory


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of an entry."""

    status: str  # "sealed", "held" or "refused"
    serial: str | None = None
    held: str | None = None
    deviation: bool = False
    applications: tuple[Json, ...] = ()
    findings: tuple[dict[str, str], ...] = ()
    ref: str | None = None
    error: str = ""  # of a refused line
    is_repeat: bool = False  # was already in the book; nothing was written
    line: int = 0  # of a file of many, counted from one
    body: Json | None = None
    refusal: SignatureError | None = None  # why the signature was refused that it needs
    revision: int = 1  # of the record
    confirmed: tuple[str, ...] = ()  # codes that the entry says were looked at

    def document(self) -> Json:
        """Return the answer in the form of the outside contract."""
        document: Json = {
            "schema": 1,
            "status": self.status,
            "serial": self.serial,
            "held": self.held,
            "deviation": self.deviation,
            "applications": list(self.applications),
            "findings": list(self.findings),
        }
        if self.line:
            document["line"] = self.line
        if self.error:
            document["error"] = self.error
        return document


@dataclass(frozen=True, slots=True)
class Base:
    """The sealed record that an entry corrects."""

    first: StoredRevision  # as it was made
    last: StoredRevision  # as it stands
    change: Json  # who, when and why; sealed with the correction
    directory: Directory  # of what the record froze
    amends: Json  # what is kept of all this with the entry, while that is held
    newest: bool = False  # whether all is taken as it is loaded now


def append_body(work: UnitOfWork, body: Json, now: datetime) -> StoredRevision:
    """Number, chain and store a new record."""
    year = int(body["period"][:4])
    return _append(work, f"{year}-{work.records.next_number(year):06d}", 1, "sealed", body, now)


def append_revision(work: UnitOfWork, last: StoredRevision, body: Json, now: datetime) -> StoredRevision:
    """Chain and store a later revision of a record; its body says under `change` what it does."""
    return _append(work, last.serial, last.revision + 1, body["change"]["action"], body, now)


def _append(work: UnitOfWork, serial: str, number: int, action: str, body: Json, now: datetime) -> StoredRevision:
    previous, sealed_at = work.records.head(), instant_text(now)
    mark, text = sealed(previous, serial, number, sealed_at, body)
    revision = StoredRevision(
        order=0,
        serial=serial,
        revision=number,
        action=action,
        sealed_at=sealed_at,
        previous=previous,
        seal=mark,
        body=body,
        text=text,
    )
    work.records.append(revision)
    return revision


def sealed_as(revision: StoredRevision, *, is_repeat: bool = False) -> Outcome:
    """Return the outcome that a sealed revision is."""
    body = revision.body
    return Outcome(
        "sealed",
        serial=revision.serial,
        deviation=body["deviation"] is not None,
        applications=tuple(applications(body)),
        findings=tuple(body["findings"]),
        ref=body["ref"],
        is_repeat=is_repeat,
        body=body,
        revision=revision.revision,
        confirmed=tuple(body.get("confirmed") or ()),
    )


def applications(body: Json) -> Iterator[Json]:
    """Yield the applications of a body in the short form of the outside contract."""
    for index, treatment in enumerate(body["treatments"]):
        for line in treatment["applications"]:
            yield {
                "treatment": index,
                "product": line["product"]["id"],
                "registration": line["product"]["registration"] or None,
                "rate": line["rate"],
                "amount": line["amount"],
                "area": line["area"],
            }
