"""Fetches what a report is about, builds its page model, hands it to a renderer."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from records.errors import NotFoundError
from records.services.directory import Directory
from records.services.finding import normal_serial, revisions_of
from records.services.noticing import season_notice, visit_notice
from records.services.ports import Criteria, Json, OpenBook, Renderer
from records.services.summarising import build_summary

if TYPE_CHECKING:
    from records.clock import Clock
    from records.domain.report_model import NoticeModel, SummaryModel


@dataclass(frozen=True, slots=True)
class Notice:
    """A notice ready to be written: the page model, the PDF and a plain file name."""

    model: NoticeModel
    pdf: bytes
    file: str


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
        TemplateError: no wording in that language.
        GlyphError: a character the fonts lack.
    """
    with book.read() as work:
        record = revisions_of(work.records.revisions(normal_serial(serial)), serial)[-1]
    spoken = _language(language, record.body)
    model = visit_notice(record, renderer.wording(spoken), spoken, _today(clock, record.body["timezone"]))
    return Notice(model, renderer.notice(model, paper), f"notice-{record.serial}.pdf")


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
    """
    criteria = Criteria(site=site, since=date(year, 1, 1), until=date(year, 12, 31))
    with book.read() as work:
        found = work.records.search(criteria)
        records = [record for record in found if (record.body["site"] or {}).get("id") == site] or found
    sites = {(record.body["site"] or {}).get("id") for record in records}
    if len(sites) > 1:
        raise NotFoundError(
            f"{site[:40]!r} fits {len(sites)} sites: {', '.join(sorted(map(str, sites)))}", "Name one by its id"
        )
    if not records:
        raise NotFoundError(
            f"nothing was applied at {site[:40]!r} in {year}", "swathbook find --site SITE shows what there is"
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
        found = Directory(work.catalogue).business()
    business = None if found is None else found[0]
    return build_summary(rows, year, business, _today(clock, business.timezone if business else None))
