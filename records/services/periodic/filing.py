"""Remembers which reports were written and which were handed in: sealed events of the book.

A report that was only written has no day of filing; what is due is answered by a day of filing alone.
"""

from __future__ import annotations

from dataclasses import dataclass
from hashlib import sha256
from typing import TYPE_CHECKING

from records.errors import NotFoundError, UsageError
from records.services.closing.body import business_body
from records.services.directory import Directory
from records.services.events import append_event
from records.services.periodic.due import asked_by, asked_reports, due_day, period_before, read_period
from records.services.periodic.layout import find_layout, plain_name
from records.services.periodic.names import layout_ids
from records.services.periodic.service import today
from records.services.rulebook import Rulebook

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from datetime import date

    from records.clock import Clock
    from records.domain.people import Business
    from records.rules.pack import Pack
    from records.services.periodic.layout import ReportLayout
    from records.services.periodic.model import Part, Report
    from records.services.ports import Json, OpenBook, StoredRevision, UnitOfWork

EVENT = "report"


@dataclass(frozen=True, slots=True)
class Filed:
    """A sealed event about a report."""

    serial: str
    report: str
    period: str
    person: str | None
    county: str | None
    lines: int | None
    filed_on: str | None
    confirmation: str | None


@dataclass(frozen=True, slots=True)
class Standing:
    """A report that a pack asks for, and where its last period stands."""

    report: str  # id in the pack
    title: str
    pack: str
    state: str  # two letters; "" where it is no state's
    status: str  # how the duty is known
    source: str
    to: str
    nil: bool
    layout: str  # "" where the tool cannot write it
    period: str  # the last that is over
    due: date
    is_ours: bool  # the firm names the pack, or has sites in its state
    written: int  # events of that period
    filed: tuple[Filed, ...]


def log_written(
    book: OpenBook,
    report: Report,
    files: Mapping[str, bytes],
    clock: Clock,
    *,
    filed_on: date | None = None,
    confirmation: str | None = None,
) -> list[str]:
    """Seal an event for every part that was written; return their serials.

    Args:
        book: of the report.
        report: that was written.
        files: what was written, by part.
        clock: for the moment.
        filed_on: the day the report was handed in, where it was.
        confirmation: what the agency answered.

    Raises:
        UsageError: the day of filing lies in the future, or before the period ends.
    """
    check_filing_day(filed_on, report.issued_on, report.since)
    with book.write() as work:
        serials = [
            _seal(
                work,
                {
                    "report": report.layout.id,
                    "period": report.period,
                    **_whose(report, part),
                    "lines": len(part.lines),
                    "left_out": report.left_out,
                    "sha256": sha256(files[part.id]).hexdigest(),
                    "filed_on": None if filed_on is None else filed_on.isoformat(),
                    "confirmation": confirmation,
                },
                clock,
            ).serial
            for part in report.parts
            if part.id in files
        ]
        work.commit()
    return serials


def _whose(report: Report, part: Part) -> Json:
    split = report.layout.split
    return {
        "person": part.id or None if split == "person" else None,
        "county": part.name or None if split == "county" else None,
    }


def check_filing_day(filed_on: date | None, now: date, since: date) -> None:
    """Refuse a day of filing that cannot be.

    Raises:
        UsageError: it lies in the future, or before the period began.
    """
    if filed_on is not None and filed_on > now:
        raise UsageError(f"{filed_on} is still to come; today is {now}", "Write the day the report was handed in")
    if filed_on is not None and filed_on < since:
        raise UsageError(f"{filed_on} lies before the period began, {since}", "Write the day the report was handed in")


def _seal(work: UnitOfWork, data: Json, clock: Clock) -> StoredRevision:
    loaded = Directory(work.catalogue).business()
    business, version = loaded if loaded is not None else (None, 0)
    return append_event(
        work,
        EVENT,
        data,
        clock.now(),
        day=today(clock, business),
        timezone="UTC" if business is None else business.timezone,
        business=None if business is None else business_body(business, version),
    )


def mark_filed(
    book: OpenBook,
    name: str,
    period: str,
    filed_on: date,
    clock: Clock,
    *,
    person: str | None = None,
    county: str | None = None,
    confirmation: str | None = None,
) -> list[Filed]:
    """Seal that a report was handed in; without person or county, all that was written for the period.

    Args:
        book: to seal into.
        name: of the report.
        period: it is about.
        filed_on: the day it was handed in.
        clock: for the moment.
        person: whose report, where each person has one.
        county: whose report, where each county gets one.
        confirmation: what the agency answered.

    Raises:
        LayoutError: no such report.
        UsageError: no such period or day.
        NotFoundError: nothing was written for that period, so that nobody knows whose reports are meant.
    """
    with book.write() as work:
        loaded = Directory(work.catalogue).business()
        business = None if loaded is None else loaded[0]
        layout, kind = _named(name, _own_packs(work, business))
        found = read_period(period, kind)
        for text, split in ((person, "person"), (county, "county")):
            if text is not None and (layout is None or layout.split != split):
                raise UsageError(f"{name} is not parted by {split}", f"Leave --{split} out")
        check_filing_day(filed_on, today(clock, business), found.since)
        if person is not None and Directory(work.catalogue).person(person) is None:
            raise NotFoundError(f"no person {person[:40]!r} in this book", "swathbook catalogue people lists everyone")
        sealed = [
            _seal(
                work,
                {
                    "report": name,
                    "period": found.text,
                    "person": whose[0],
                    "county": whose[1],
                    "lines": one.get("lines"),
                    "left_out": one.get("left_out"),
                    "sha256": one.get("sha256"),
                    "filed_on": filed_on.isoformat(),
                    "confirmation": confirmation,
                },
                clock,
            )
            for whose, one in _meant(work, layout, found.text, person, county).items()
        ]
        work.commit()
    return [_filed(event) for event in sealed]


def _own_packs(work: UnitOfWork, business: Business | None) -> list[Pack]:
    """Return the firm's own packs that it names, in the version loaded last."""
    rulebook = Rulebook(work.catalogue)
    loaded = (rulebook.overlays(name) for name in (() if business is None else business.packs))
    return [versions[0] for versions in loaded if versions]


def _named(name: str, own: Iterable[Pack]) -> tuple[ReportLayout | None, str]:
    """Return the layout of a report, None where the tool cannot write it, and whether it is about a year or a month.

    Args:
        name: of a layout, or of a report as a pack has it.
        own: the firm's own packs.

    Raises:
        LayoutError: no pack asks for such a report.
    """
    if name not in layout_ids():
        other = next((report for _, report in asked_reports(own) if report.id == name), None)
        if other is not None:
            return None, other.period
    layout = find_layout(name)
    asked = asked_by(layout.pack, layout.id)
    return layout, asked[1].period if asked else "year"


def _meant(
    work: UnitOfWork, layout: ReportLayout | None, period: str, person: str | None, county: str | None
) -> dict[tuple[str | None, str | None], Json]:
    """Return whose reports are meant, each with what was last remembered of it.

    Raises:
        NotFoundError: nobody is named, and nothing was written for that period.
    """
    if layout is None:
        return {(None, None): {}}
    latest: dict[tuple[str | None, str | None], Json] = {
        (one["person"], one.get("county")): one
        for event in work.records.events(EVENT)
        if (one := event.body["data"])["report"] == layout.id and one["period"] == period
    }
    if person is not None:
        return {(person, None): latest.get((person, None), {})}
    if county is not None:
        own = {key: one for key, one in latest.items() if plain_name(key[1] or "") == plain_name(county)}
        return own or {(None, county): {}}
    if not latest and layout.split:
        first = f"swathbook report {layout.id} {period} --out FILE.csv"
        hint = f"Write them first: {first}; or name one with --{layout.split}"
        raise NotFoundError(f"no {layout.id} of {period} was written from this book", hint)
    return latest or {(None, None): {}}


def _filed(event: StoredRevision) -> Filed:
    data = event.body["data"]
    return Filed(
        event.serial,
        data["report"],
        data["period"],
        data.get("person"),
        data.get("county"),
        data.get("lines"),
        data.get("filed_on"),
        data.get("confirmation"),
    )


def standings(book: OpenBook, clock: Clock) -> list[Standing]:
    """Return every report that the tool's packs ask for, the firm's own first, and where its last period stands."""
    with book.read() as work:
        loaded = Directory(work.catalogue).business()
        events = [_filed(event) for event in work.records.events(EVENT)]
        own_packs = _own_packs(work, None if loaded is None else loaded[0])
        states = {site.body.get("state") for site in work.catalogue.every("site")} - {"", None}
    business = None if loaded is None else loaded[0]
    now = today(clock, business)
    named = () if business is None else business.packs
    found = []
    for pack, report in asked_reports(own_packs):
        layout = report.layout if report.layout in layout_ids() else ""
        period = period_before(report.period, now)
        own = [one for one in events if one.report in {report.id, report.layout} and one.period == period.text]
        found.append(
            Standing(
                report=report.id,
                title=report.title,
                pack=pack.id,
                state=pack.state,
                status=report.source.status.value,
                source=report.source.cited,
                to=report.to,
                nil=report.nil,
                layout=layout,
                period=period.text,
                due=due_day(report, period),
                is_ours=pack.id in named or pack.state in states,
                written=len(own),
                filed=tuple(one for one in own if one.filed_on is not None),
            )
        )
    return sorted(found, key=lambda one: (not one.is_ours, one.state, not one.layout, one.report))
