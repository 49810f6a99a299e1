"""What a year holds: visits with their hours, treatments and what became of them, money and totals."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from datetime import date, datetime
from fractions import Fraction
from statistics import median
from typing import TYPE_CHECKING, NamedTuple

from records.errors import NotFoundError
from records.rules.looks import look_of
from records.services.costing.report import cost
from records.services.directory import Directory
from records.services.follow_up import Rated, Treated, ratings, treated_since
from records.services.follow_up.looking import GRACE
from records.services.readiness import ready

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from records.clock import Clock
    from records.domain.follow_up import Rating
    from records.domain.people import Business
    from records.services.costing.report import CostRow
    from records.services.ports import OpenBook, Outline, SummaryRows

AGAIN = 60  # days within which more work against a target on the same ground counts as a repeat


class Visit(NamedTuple):
    """One record that stands."""

    serial: str
    day: date
    person: str  # name
    minutes: int | None  # None: start or end is not recorded
    is_late: bool
    is_deviation: bool
    is_incomplete: bool


@dataclass(slots=True)
class Year:
    """All of it, as the book has it at one moment."""

    year: int
    today: date
    business: Business | None
    head: str  # last seal of the book
    voided: int
    visits: list[Visit] = field(default_factory=list)
    treated: list[Treated] = field(default_factory=list)
    again: frozenset[tuple[str, int]] = frozenset()  # (serial, treatment) that had to be repeated
    controls: dict[tuple[str, int, str], Fraction] = field(default_factory=dict)  # at the last look, of each target
    totals: SummaryRows | None = None
    money: dict[str, CostRow] = field(default_factory=dict)  # by product id
    months: dict[str, CostRow] = field(default_factory=dict)  # by 2026-05
    spent: CostRow | None = None
    held: int = 0
    month_totals: int = 0  # imported totals of months: sums without a visit
    years: tuple[int, ...] = ()  # that hold records
    wrong: int | None = None  # what an inspector would find; None: not looked at


def gather_year(book: OpenBook, clock: Clock, year: int) -> Year:
    """Read a year.

    Raises:
        NotFoundError: it has not begun yet.
    """
    now = clock.now()
    with book.read() as work:
        if year > now.year:
            known = ", ".join(map(str, work.records.years())) or "none"
            raise NotFoundError(f"{year} has not begun yet", f"Years with records: {known}")
        found = Directory(work.catalogue).business()
        business = None if found is None else found[0]
        since, until = date(year, 1, 1), date(year, 12, 31)
        rows = work.records.summary(year)
        made = Year(year, now.date(), business, rows.head, rows.voided, totals=rows)
        made.years = tuple(work.records.years())
        every = list(work.records.outlines(since, until))
        made.visits = list(_visits(every))
        made.month_totals = sum(one.kind == "usage" and one.action != "voided" for one in every)
        # What came of the year's last work is told by the work and the looks of the next.
        past = [one for one in treated_since(work, since, date(year + 1, 12, 31)) if one.killers]
        made.treated = [one for one in past if one.day <= until]
        made.again = repeated(past)
        mine = {(one.serial, one.index) for one in made.treated}
        controls = last_controls(ratings(work, since=since), past)
        made.controls = {key: value for key, value in controls.items() if key[:2] in mine}
        products = cost(work, "product", since, until)
        made.money, made.spent = {row.key: row for row in products.rows}, products.total
        made.months = {row.key: row for row in cost(work, "month", since, until).rows}
        made.held = sum(str(entry.document.get("started") or year)[:4] == str(year) for entry in work.held.open())
    if made.visits:
        made.wrong = ready(book, clock, since, min(until, now.date())).wrong
    return made


def _visits(outlines: Iterable[Outline]) -> Iterable[Visit]:
    for one in outlines:
        if one.action == "voided" or one.kind != "visit" or one.day is None:
            continue
        minutes = None
        if one.started and one.finished:
            spent = datetime.fromisoformat(one.finished) - datetime.fromisoformat(one.started)
            minutes = int(spent.total_seconds()) // 60
        yield Visit(
            serial=one.serial,
            day=date.fromisoformat(one.day),
            person=one.person_name or "not recorded",
            minutes=minutes,
            is_late=one.late is not None,
            is_deviation=one.deviation is not None,
            is_incomplete=one.incomplete,
        )


def repeated(past: Sequence[Treated]) -> frozenset[tuple[str, int]]:
    """Return the treatments that had to be done again: more work against a target of theirs on ground of theirs.

    The repeat itself is none of them. What went on within `AGAIN` days counts, on another day.

    Args:
        past: treatments against weeds, by day.
    """
    before: defaultdict[tuple[str, str, str], list[Treated]] = defaultdict(list)
    found: set[tuple[str, int]] = set()
    for one in past:
        for target in one.targets:
            for zone in one.zones:
                earlier = before[one.site, zone, target.casefold()]
                found |= {(other.serial, other.index) for other in earlier if 0 < (one.day - other.day).days <= AGAIN}
                earlier.append(one)
    return frozenset(found)


def last_controls(rated: Iterable[Rated], past: Sequence[Treated]) -> dict[tuple[str, int, str], Fraction]:
    """Return the control of each target of each treatment at the last look of its mode of action.

    What does not count: a rating that lies nearer to the look before (it tells what a weed does on the way), one that
    came too late to tell, one of a target that the record does not name any more, and one that was taken after the same
    ground was treated against the target again.

    Args:
        rated: ratings.
        past: treatments against weeds, by day.
    """
    later: defaultdict[tuple[str, str, str], list[Treated]] = defaultdict(list)
    for one in past:
        for target in one.targets:
            for zone in one.zones:
                later[one.site, zone, target.casefold()].append(one)
    found: dict[tuple[str, int, str], Fraction] = {}
    for each in sorted(rated, key=lambda one: (one.rating.days, one.rating.serial)):
        rating, treated = each.rating, each.treated
        if treated is None or rating.control is None or rating.target not in treated.targets:
            continue
        *_, before, last = (0, *look_of(treated.groups).days)
        is_last = 2 * rating.days >= before + last and rating.days <= last + GRACE
        if is_last and not _is_repeated(rating, treated, later):
            found[rating.record, rating.treatment, rating.target] = rating.control
    return found


def _is_repeated(rating: Rating, treated: Treated, later: dict[tuple[str, str, str], list[Treated]]) -> bool:
    return any(
        treated.day < other.day < rating.day
        for zone in treated.zones
        for other in later.get((treated.site, zone, rating.target.casefold()), ())
    )


def middle(values: Sequence[Fraction]) -> Fraction | None:
    """Return the median, exactly; None of nothing."""
    return Fraction(median(values)) if values else None
