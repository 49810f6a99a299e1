"""Hands a packet over: writes it, seals what was handed to whom, and only then puts the files in place."""

from __future__ import annotations

from dataclasses import dataclass
from hashlib import sha256
from typing import TYPE_CHECKING, Protocol
from zoneinfo import ZoneInfo

from records.domain.report_model import one_line
from records.services.closing.body import business_body
from records.services.events import append_event
from records.services.inspecting.packet import open_packet
from records.services.inspecting.request import NOT_STATED, criteria_data

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence
    from datetime import date, datetime

    from records.clock import Clock
    from records.domain.packet_model import PacketModel, PacketSink
    from records.domain.people import Business
    from records.services.inspecting.request import Found, Question, Request
    from records.services.inspecting.writing import Target
    from records.services.ports import Json, OpenBook, StoredRevision

AGENCY, MEDICAL = "agency", "medical"


class Draft(Protocol):
    """A file that is written beside its place and put there when all is done."""

    kind: str  # "pdf", "csv", "xlsx", "json", "text"
    name: str  # as told: the file's own name, without its folder

    def write(self, data: bytes, /) -> int:
        """Take bytes."""

    def place(self) -> None:
        """Put the file in its place."""


class Hashed:
    """Counts the digest of what goes into a draft."""

    def __init__(self, draft: Draft) -> None:
        """Write into this draft."""
        self._draft = draft
        self._digest = sha256()

    def write(self, data: bytes, /) -> int:
        """Take bytes."""
        self._digest.update(data)
        return self._draft.write(data)

    def flush(self) -> None:
        """Do nothing: what is written is on its way."""

    def document(self) -> Json:
        """Return name, kind and digest of the file."""
        return {"name": one_line(self._draft.name), "kind": self._draft.kind, "sha256": self._digest.hexdigest()}


@dataclass(frozen=True, slots=True)
class Produced:
    """What was handed over, or shown."""

    model: PacketModel
    found: Found
    files: tuple[Json, ...]
    event: str  # serial of the sealed production; "" when nothing was handed over


def local_day(business: Business | None, now: datetime) -> tuple[date, str]:
    """Return the firm's own day at a moment, and its zone."""
    zone = business.timezone if business is not None and business.timezone else "UTC"
    return now.astimezone(ZoneInfo(zone)).date(), zone


def produce(
    book: OpenBook,
    request: Request,
    drafts: Sequence[Draft],
    sink_of: Callable[[str, Target], PacketSink],
    clock: Clock,
    *,
    on_asked: Callable[[Question], None] = lambda _question: None,
    on_found: Callable[[Found], None] = lambda _found: None,
) -> Produced:
    """Make a packet, write it into drafts, seal the production and put the files in place.

    Args:
        book: that is inspected.
        request: what was asked.
        drafts: files to write; none: the model alone, which is no production.
        sink_of: returns what writes a kind of file into a target.
        clock: for the day of issue and the moment of handing over.
        on_asked: told how the request was understood, before any record is looked for.
        on_found: told what was found before anything is read of it.

    Raises:
        NotFoundError: no site or record of that name.
        UsageError: the request contradicts itself.
        GlyphError: a character the report fonts lack.
    """
    now = clock.now()
    targets = [Hashed(draft) for draft in drafts]
    with book.read() as work:
        packet = open_packet(work, request, on_asked=on_asked)
        on_found(packet.found)
        business, version, site = packet.business, packet.business_version, None
        model = packet.gather(local_day(business, now)[0], now)
        sinks = [sink_of(draft.kind, target) for draft, target in zip(drafts, targets, strict=True)]
        for sink in sinks:
            sink.begin(model)
        for part in packet.records() if sinks else ():
            for sink in sinks:
                sink.record(part)
        for sink in sinks:
            sink.end()
        site = packet.last_site
    found, files = packet.found, tuple(target.document() for target in targets)
    if not drafts:
        return Produced(model, found, files, "")
    data = {
        **handed(AGENCY, request.asked_by, request.credentials, files, (match.serial for match in found.matches)),
        "question": {"words": found.words, "criteria": criteria_data(found)},
        "seed": found.seed or None,
        "last_seal": model.last_seal,
    }
    event = log_production(book, data, clock, business, version, site, drafts)
    return Produced(model, found, files, event.serial)


def handed(to: str, asked_by: str, credentials: str, files: Iterable[Json], serials: Iterable[str]) -> Json:
    """Return who got which files about which records, as sealed.

    `serials_digest` is SHA-256, in hex, over the serials in the order of the packet, each with a line break after it.
    """
    digest, count, first, last = sha256(), 0, None, None
    for serial in serials:
        digest.update(f"{serial}\n".encode())
        first = serial if first is None else first
        last = serial
        count += 1
    return {
        "to": to,
        "asked_by": one_line(asked_by) or NOT_STATED,
        "credentials": one_line(credentials) or None,
        "records": count,
        "serials_digest": digest.hexdigest(),
        "first": first,
        "last": last,
        "files": list(files),
    }


def log_production(
    book: OpenBook,
    data: Json,
    clock: Clock,
    business: Business | None,
    version: int,
    site: Json | None,
    drafts: Sequence[Draft],
) -> StoredRevision:
    """Seal a production and put its files in place; neither happens without the other.

    Args:
        book: that keeps it.
        data: of the event.
        clock: the moment of handing over.
        business: the firm.
        version: of the firm.
        site: the one that all records are of, as frozen in them; None: several.
        drafts: to put in place.
    """
    now = clock.now()
    day, zone = local_day(business, now)
    with book.write() as work:
        event = append_event(
            work,
            "production",
            data,
            now,
            day=day,
            timezone=zone,
            business=None if business is None else business_body(business, version),
            site=site,
        )
        for draft in drafts:
            draft.place()
        work.commit()
    return event


def productions(book: OpenBook) -> list[StoredRevision]:
    """Return everything that was handed over, oldest first."""
    with book.read() as work:
        return work.records.events("production")
