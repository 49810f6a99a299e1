"""Fetches what a report is about, builds its page model, hands it to a renderer."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from records.errors import NotFoundError, UsageError
from records.services.directory import Directory
from records.services.finding import normal_serial, revisions_of
from records.services.notice_content import lacking, owed_on
from records.services.notice_corrections import with_corrections
from records.services.noticing import season_notice, visit_notice
from records.services.nutrients import year_rows
from records.services.ports import Criteria, Json, OpenBook, Renderer, StoredRevision, UnitOfWork
from records.services.rulebook import Rulebook
from records.services.sealing import proved
from records.services.summarising import build_summary

if TYPE_CHECKING:
    from collections.abc import Sequence

    from records.clock import Clock
    from records.domain.report_model import NoticeModel, SummaryModel
    from records.rules.pack import Pack
    from records.services.notice_content import Lacking


@dataclass(frozen=True, slots=True)
class Notice:
    """A notice ready to be written: the page model, the PDF and a plain file name."""

    model: NoticeModel
    pdf: bytes
    file: str
    lacking: tuple[Lacking, ...] = ()  # what rules want on it and the record does not hold


def _today(clock: Clock, zone: str | None) -> date:
    now = clock.now()
    return now.astimezone(ZoneInfo(zone)).date() if zone else now.date()


def _language(asked: str | None, body: Json) -> str:
    customer = body["customer"] or {}
    return asked or customer.get("language") or "en"


def notice(
    book: OpenBook, renderer: Renderer, serial: str, clock: Clock, *, language: str | None = None, paper: str = "letter"
) -> Notice:
    """Return the customer's notice of one visit.

    Args:
        book: that holds the record.
        renderer: that draws it.
        serial: of the record.
        clock: for the day of issue.
        language: `en` or `es`; None: the customer's own.
        paper: `letter` or `a4`.

    Raises:
        NotFoundError: no such record.
        UsageError: it was voided.
        TemplateError: no wording in that language.
        GlyphError: a character the fonts lack.
    """
    with book.read() as work:
        record, packs = record_and_packs(work, serial)
        first = first_of(work, record)
    if record.action == "voided":
        raise UsageError(
            f"{record.serial} was voided: it does not stand, so there is no notice of it",
            f"swathbook show {record.serial} tells why",
        )
    today = _today(clock, record.body["timezone"])
    return notice_of(record, packs, renderer, today, language=language, paper=paper, first=first)


def record_and_packs(work: UnitOfWork, serial: str) -> tuple[StoredRevision, tuple[Pack, ...]]:
    """Return the latest revision of a record, and the packs that judge it.

    Raises:
        NotFoundError: no such record.
        BookDamagedError: it is not what was sealed.
    """
    key = normal_serial(serial)
    record = proved(revisions_of([] if key.startswith("E-") else work.records.revisions(key), serial)[-1])
    business = Directory(work.catalogue).business()
    return record, Rulebook(work.catalogue).of_record(record.body, None if business is None else business[0])


def first_of(work: UnitOfWork, record: StoredRevision) -> StoredRevision | None:
    """Return the first text of a record that was amended; None where this is it."""
    return None if record.revision == 1 else work.records.revisions(record.serial)[0]


def notice_of(
    record: StoredRevision,
    packs: Sequence[Pack],
    renderer: Renderer,
    issued_on: date,
    *,
    language: str | None,
    paper: str,
    first: StoredRevision | None = None,
) -> Notice:
    """Return the notice of a revision, with what the packs want on it and what of that it lacks.

    Args:
        record: the revision.
        packs: that judge it.
        renderer: draws it.
        issued_on: the day printed as the day of issue.
        language: of the notice; None: the customer's own.
        paper: its size.
        first: the record's first text, where it was amended since: the notice tells what differs.
    """
    spoken, owed = _language(language, record.body), owed_on(record.body, packs)
    wording = renderer.wording(spoken)
    model = visit_notice(record, wording, spoken, issued_on, owed)
    if first is not None:
        model = with_corrections(model, visit_notice(first, wording, spoken, issued_on, owed), record.body, wording)
    missing = lacking(record.body, packs)
    return Notice(model, renderer.notice(model, paper), f"notice-{record.serial}.pdf", missing)


def notice_of_season(  # what, of when, and in which words
    book: OpenBook,
    renderer: Renderer,
    site: str,
    year: int,
    clock: Clock,
    *,
    language: str | None = None,
    paper: str = "letter",
) -> Notice:
    """Return one notice of everything applied at a site in a year.

    Raises:
        NotFoundError: no such site, or nothing was applied there.
        BookDamagedError: a record is not what was sealed.
    """
    criteria = Criteria(site=site, since=date(year, 1, 1), until=date(year, 12, 31))
    with book.read() as work:
        every = work.records.search(criteria)
        found, voided = ([one for one in every if (one.action == "voided") is gone] for gone in (False, True))
        records = [record for record in found if (record.body["site"] or {}).get("id") == site] or found
        for record in records:
            proved(record)
    sites = {(record.body["site"] or {}).get("id") for record in records}
    if len(sites) > 1:
        raise NotFoundError(
            f"{site[:40]!r} fits {len(sites)} sites: {', '.join(sorted(map(str, sites)))}", "Name one by its id"
        )
    if not records:
        told = f"; {', '.join(one.serial for one in voided[:5])} was voided" if voided else ""
        raise NotFoundError(
            f"nothing was applied at {site[:40]!r} in {year}{told}", "swathbook find --site SITE shows what there is"
        )
    spoken = _language(language, records[0].body)
    model = season_notice(records, year, renderer.wording(spoken), spoken, _today(clock, records[0].body["timezone"]))
    return Notice(model, renderer.notice(model, paper), f"season-{year}-{sites.pop()}.pdf")


def summary(book: OpenBook, year: int, clock: Clock) -> SummaryModel:
    """Return the page model of a year; PDF, CSV and JSON are all drawn from it.

    A year without records gives a summary of nothing, as some states want one filed all the same.

    Raises:
        NotFoundError: the year has not begun yet.
    """
    with book.read() as work:
        if year > clock.now().year:
            known = ", ".join(map(str, work.records.years())) or "none"
            raise NotFoundError(f"{year} has not begun yet", f"Years with records: {known}")
        rows = work.records.summary(year)
        nutrients = year_rows(work, rows)
        found = Directory(work.catalogue).business()
    business = None if found is None else found[0]
    return build_summary(rows, year, business, _today(clock, business.timezone if business else None), nutrients)
