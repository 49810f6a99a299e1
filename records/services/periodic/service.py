"""Makes a periodic report out of a book: reads, gathers, proves it against the annual summary."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from records.domain.people import LicenceKind
from records.errors import NotFoundError, UsageError
from records.services.directory import Directory
from records.services.periodic.due import asked_by, due_day, read_period
from records.services.periodic.engine import Wanted, gather, month_span
from records.services.periodic.layout import find_layout, plain_name
from records.services.periodic.model import Part, Report
from records.services.periodic.reconcile import reconcile, summary_tally
from records.services.ports import Packet

if TYPE_CHECKING:
    from datetime import date

    from records.clock import Clock
    from records.domain.people import Business
    from records.rules.pack import Pack, PeriodicReport
    from records.services.periodic.engine import Gathered, Line
    from records.services.periodic.layout import ReportLayout
    from records.services.ports import OpenBook

_REPORTS = frozenset({LicenceKind.CERTIFIED, LicenceKind.TECHNICIAN})  # whose licence asks for a report of their own


def today(clock: Clock, business: Business | None) -> date:
    """Return the firm's own day."""
    now = clock.now()
    return now.astimezone(ZoneInfo(business.timezone)).date() if business else now.date()


def make_report(
    book: OpenBook, name: str, period: str, clock: Clock, *, person: str | None = None, county: str | None = None
) -> Report:
    """Make a report that a rule asks for.

    Args:
        book: to report from.
        name: of the layout.
        period: a year or a month, as the report has it.
        clock: for the day of issue.
        person: id of the one person to report for, where each has a report of their own.
        county: the one county to report for, where each gets a report of its own.

    Raises:
        LayoutError: no such layout.
        UsageError: no such period, or a person or county where the report knows none.
        NotFoundError: the period has not begun, or nobody of that id has to report.
    """
    layout = find_layout(name)
    asked = asked_by(layout.pack, layout.id)
    found = read_period(period, asked[1].period if asked else "year")
    for text, split in ((person, "person"), (county, "county")):
        if text is not None and layout.split != split:
            raise UsageError(f"{name} is not parted by {split}", f"Leave --{split} out")
    wanted = Wanted(found.since, found.until, person, county)
    due = None if asked is None else due_day(asked[1], found)
    return _make(book, layout, found.text, wanted, clock, asked=asked, due=due)


def make_sums(book: OpenBook, layout: ReportLayout, since: date | None, until: date | None, clock: Clock) -> Report:
    """Make sums by keys of one's own choice.

    Args:
        book: to sum up.
        layout: see `layout_by`.
        since: first day; None: of the last day's year.
        until: last day; None: today.
        clock: for the day of issue.

    Raises:
        UsageError: the last day lies before the first.
    """
    if until is None:
        with book.read() as work:
            loaded = Directory(work.catalogue).business()
        until = today(clock, None if loaded is None else loaded[0])
    since = since or until.replace(month=1, day=1)
    if until < since:
        raise UsageError(f"{until} lies before {since}", "Swap --from and --to")
    return _make(book, layout, f"{since} to {until}", Wanted(since, until), clock)


def _make(
    book: OpenBook,
    layout: ReportLayout,
    period: str,
    wanted: Wanted,
    clock: Clock,
    *,
    asked: tuple[Pack, PeriodicReport] | None = None,
    due: date | None = None,
) -> Report:
    with book.read() as work:
        directory = Directory(work.catalogue)
        loaded = directory.business()
        business = None if loaded is None else loaded[0]
        issued = today(clock, business)
        if wanted.since > issued:
            raise NotFoundError(f"{period} has not begun yet", "Ask for a period that has")
        first, last = month_span(f"{wanted.since:%Y-%m}")[0], month_span(f"{wanted.until:%Y-%m}")[1]
        orders = [match.order for match in work.records.matching(Packet(since=first, until=last))]
        got = gather(work.records.bodies(orders), layout, wanted)
        rows = [row for year in range(first.year, last.year + 1) for row in work.records.summary(year).uses]
        proof = reconcile(got, layout, summary_tally(rows, f"{first:%Y-%m}", f"{last:%Y-%m}"))
        parts = _parts(got, layout, wanted, directory)
        head = work.records.head()
    return Report(
        layout=layout,
        period=period,
        since=wanted.since,
        until=wanted.until,
        issued_on=issued,
        business=business,
        asked=asked,
        due=due,
        parts=parts,
        troubles=tuple(got.troubles),
        left_out=sum(sums.applications for sums in got.left_out.values()),
        why_other=dict(sorted(got.why_other.items())),
        reconciliation=proof,
        head=head,
    )


def _parts(got: Gathered, layout: ReportLayout, wanted: Wanted, directory: Directory) -> tuple[Part, ...]:
    if layout.split != "person":
        return _by_county(got, wanted) if layout.split == "county" else (Part("", "", "", tuple(got.lines)),)
    lines: defaultdict[str, list[Line]] = defaultdict(list)
    for line in got.lines:
        lines[line.part].append(line)
    number = layout.keys.index("filer_licence")
    found = [
        Part(key, got.names[key], ", ".join(dict.fromkeys(line.keys[number] or "" for line in own)), tuple(own))
        for key, own in lines.items()
    ]
    found += [part for part in _idle(layout, wanted, directory) if part.id not in lines]
    if wanted.person is None:
        return tuple(sorted(found, key=lambda part: part.id)) or (Part("", "", "", ()),)
    found = [part for part in found if part.id == wanted.person]
    if not found:
        states = " or ".join(layout.states) or "any state"
        raise NotFoundError(
            f"{wanted.person[:40]!r} has no work to report, and no licence of {states} that asks for a report",
            "swathbook catalogue people lists everyone",
        )
    return tuple(found)


def _by_county(got: Gathered, wanted: Wanted) -> tuple[Part, ...]:
    lines: defaultdict[str, list[Line]] = defaultdict(list)
    for line in got.lines:
        lines[line.part].append(line)
    if not lines:
        return (Part("" if wanted.county is None else plain_name(wanted.county), wanted.county or "", "", ()),)
    return tuple(Part(key, key, "", tuple(own)) for key, own in lines.items())


def _idle(layout: ReportLayout, wanted: Wanted, directory: Directory) -> list[Part]:
    """Return a part without lines for everybody whose licence asks for a report of their own."""
    found = []
    for key in directory.ids("person"):
        known = directory.person(key)
        for licence in () if known is None else reversed(known[0].licences):
            is_asked = licence.state in layout.states and licence.kind in _REPORTS
            if is_asked and licence.first_day <= wanted.until and licence.last_day >= wanted.since:
                found.append(Part(key, known[0].name if known else key, licence.number, ()))
                break
    return found
