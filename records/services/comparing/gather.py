"""Gathers the ratings of a target by what was put out, each site with its courses."""

from __future__ import annotations

from bisect import bisect_right
from collections import defaultdict
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import pairwise
from typing import TYPE_CHECKING

from records.domain.efficacy import Point, days_to
from records.domain.numerals import QuantityError
from records.domain.quantities import Form, parse_amount
from records.rules.looks import look_of
from records.services.comparing.model import LATEST, LEVELS, WINDOWS, Course, SiteResult
from records.services.comparing.statistics import median, median_between
from records.services.directory import Directory
from records.services.follow_up.alone import overtaken_by
from records.services.follow_up.treated import treatments_of
from records.services.ports import Packet
from records.services.stocking.entries import purchases
from records.services.stocking.prices import PriceList
from records.services.stocking.shelf import Identifier

if TYPE_CHECKING:
    from collections.abc import Container, Iterable, Sequence

    from records.services.follow_up.ratings import Rated
    from records.services.follow_up.treated import Treated, Used
    from records.services.ports import UnitOfWork

_EDGES = tuple(Fraction(low + high, 2) for low, high in pairwise(WINDOWS))


def window_of(days: Fraction | int) -> int | None:
    """Return the window that a look falls into; None: it is too late for any, or on the day of the treatment."""
    return WINDOWS[bisect_right(_EDGES, days)] if 0 < days <= LATEST else None


class Costs:
    """What treatments cost per 1,000 sq ft, by the rates that were really used."""

    def __init__(self, work: UnitOfWork) -> None:
        """Read prices once."""
        self._directory = Directory(work.catalogue)
        self._prices, self._identify = PriceList.of(purchases(work)), Identifier(self._directory)

    def of(self, treated: Treated) -> tuple[Fraction | None, str]:
        """Return the cost of weed killers and adjuvants per 1,000 sq ft, or why it is not known.

        A lot costs what was paid for it, anything else (also a lot bought at several prices) the average of what was
        bought until the day. Fertilizers do not count: they were not put out for the weed.
        """
        if not treated.area:
            return None, "no treated area is recorded"
        total = Fraction(0)
        for line in treated.used:
            if line.is_weed_killer or line.is_adjuvant:
                paid, why = self._line(line, treated.day.isoformat())
                if paid is None:
                    return None, f"{line.name or line.product}: {why}"
                total += paid
        return total * 1000 / treated.area, ""

    def rates(self, treated: Treated) -> tuple[tuple[str, Fraction], ...]:
        """Return the rates of the weed killers by name, in base units per sq ft, as far as they are known."""
        found = []
        for line in treated.killers if treated.area else ():
            known = self._directory.product(line.product) if line.product else None
            try:
                amount = parse_amount(line.amount, Form.UNKNOWN if known is None else known.form)
            except QuantityError:
                continue
            if treated.area and self._identify.problem(line.product, amount.unit) == "":
                found.append((line.name, amount.base / treated.area))
        return tuple(found)

    def _line(self, line: Used, day: str) -> tuple[Fraction | None, str]:
        product = line.product or self._identify.product(None, line.registration or None)
        if not product:
            return None, "not in the catalogue"
        if not line.amount:
            return None, "no amount is recorded"
        known = self._directory.product(product)
        try:
            amount = parse_amount(line.amount, Form.UNKNOWN if known is None else known.form)
        except QuantityError:
            return None, "its amount cannot be priced"
        if problem := self._identify.problem(product, amount.unit):
            return None, problem
        lot = line.lot if line.lot and not self._prices.has_layers(product, line.lot) else None
        price = self._prices.price(product, lot, day)
        return (None, "no price") if price is None else (amount.base * price.each, "")


@dataclass(slots=True)
class Gathered:
    """Ratings of one set of products, by treatment."""

    key: tuple[str, ...]
    name: str
    by_treatment: dict[tuple[str, int], list[Rated]] = field(default_factory=lambda: defaultdict(list))

    @property
    def treated(self) -> list[Treated]:
        """Return the treatments, each once."""
        return [rated[0].treated for rated in self.by_treatment.values() if rated[0].treated is not None]


def key_of(treated: Treated, *, with_adjuvants: bool) -> tuple[str, ...]:
    """Return what compares with what: the set of weed killers, with their adjuvants where wanted."""
    lines = [one for one in treated.used if one.is_weed_killer or (with_adjuvants and one.is_adjuvant)]
    return tuple(sorted({one.product or one.name for one in lines}))


def name_of(treated: Treated, *, with_adjuvants: bool) -> str:
    """Return the same in words."""
    lines = [one for one in treated.used if one.is_weed_killer or (with_adjuvants and one.is_adjuvant)]
    return " + ".join(dict.fromkeys(sorted(one.name or one.product for one in lines)))


def in_groups(every: Iterable[Rated], *, with_adjuvants: bool) -> list[Gathered]:
    """Return ratings by what was put out; what had no weed killer is in none."""
    groups: dict[tuple[str, ...], Gathered] = {}
    for rated in every:
        treated = rated.treated
        if treated is None or not treated.killers:
            continue
        key = key_of(treated, with_adjuvants=with_adjuvants)
        group = groups.setdefault(key, Gathered(key, name_of(treated, with_adjuvants=with_adjuvants)))
        group.by_treatment[treated.serial, treated.index].append(rated)
    return list(groups.values())


def before_repeats(work: UnitOfWork, every: Sequence[Rated], target: str) -> tuple[list[Rated], list[Rated]]:
    """Return the ratings that speak of one treatment alone, and those that do not.

    Once the same ground is treated against the target again, what is seen there is no longer the first one's doing.
    """
    sites = frozenset(one.site for one in every if one.site)
    if not sites:
        return list(every), []
    orders = [match.order for match in work.records.matching(Packet(sites=sites))]
    treatments = defaultdict(list)
    for revision in work.records.bodies(orders):
        if revision.action != "voided":
            for treated in treatments_of(revision):
                if treated.killers and any(name.casefold() == target for name in treated.targets):
                    treatments[treated.site].append(treated)
    kept: list[Rated] = []
    dropped: list[Rated] = []
    for one in every:
        (kept if overtaken_by(one, treatments[one.site]) is None else dropped).append(one)
    return kept, dropped


def site_results(
    group: Gathered, costs: Costs, until_days: int | None, cut: Container[tuple[str, int]] = frozenset()
) -> list[SiteResult]:
    """Return what each site says of a group.

    Args:
        group: ratings of it.
        costs: of treatments.
        until_days: within which final looks are; None: the last look of the mode of action.
        cut: treatments of which later ratings do not count.
    """
    courses: dict[str, list[Course]] = defaultdict(list)
    addresses: dict[str, str] = {}
    for rated in group.by_treatment.values():
        treated = rated[0].treated
        if treated is not None:
            site = treated.site or treated.address or treated.serial
            addresses[site] = treated.address
            is_cut = (treated.serial, treated.index) in cut
            courses[site].append(_course(treated, rated, costs, is_cut=is_cut))
    return [_site(site, addresses[site], tuple(courses[site]), until_days) for site in sorted(courses)]


def _course(treated: Treated, rated: Sequence[Rated], costs: Costs, *, is_cut: bool) -> Course:
    by_day: dict[int, list[Fraction]] = defaultdict(list)
    for one in rated:
        if one.rating.control is not None:
            by_day[one.rating.days].append(one.rating.control)
    cost, why = costs.of(treated)
    injuries = [one.rating.injury for one in rated if one.rating.injury is not None]
    return Course(
        serial=treated.serial,
        index=treated.index,
        day=treated.day,
        points=tuple(Point(days, middle(by_day[days])) for days in sorted(by_day)),
        ratings=len(rated),
        raters=tuple(dict.fromkeys(one.rating.rater for one in rated)),
        injury=max(injuries, default=None),
        cost=cost,
        unpriced=why,
        trial=treated.plot.partition("/")[0],
        look=look_of(treated.groups),
        is_cut=is_cut,
        rates=costs.rates(treated),
    )


def middle(values: Sequence[Fraction]) -> Fraction:
    """Return the median of numbers, of which there has to be one."""
    found = median(values)
    return found if found is not None else Fraction(0)


def _site(site: str, address: str, courses: tuple[Course, ...], until_days: int | None) -> SiteResult:
    by_window: dict[int, list[Fraction]] = defaultdict(list)
    for course in courses:
        for point in course.points:
            if (window := window_of(point.days)) is not None:
                by_window[window].append(point.control)
    timed = [course for course in courses if course.points and not course.look.is_early]
    reached = [_reached(timed, level) for level in LEVELS]
    last = [final for course in courses if (final := course.final(until_days)) is not None]
    costs = [course.cost for course in courses if course.cost is not None]
    return SiteResult(
        site=site,
        address=address,
        courses=courses,
        looks=tuple((window, middle(by_window[window])) for window in sorted(by_window)),
        days_to=tuple(days for days, _ in reached),
        open_at=tuple(bound for _, bound in reached),
        final=middle([point.control for point in last]) if last else None,
        final_day=middle([Fraction(point.days) for point in last]) if last else None,
        injury=max((course.injury for course in courses if course.injury is not None), default=None),
        cost=middle(costs) if costs else None,
    )


def _reached(courses: Sequence[Course], level: Fraction) -> tuple[Fraction | None, Fraction | None]:
    """Return after how many days a site reached a control, or until when it had not while it still may.

    Only the last look of the mode of action tells that a control was never reached; before, it is open.
    """
    known: list[Fraction | None] = []
    open_at: list[Fraction] = []
    for course in courses:
        days, last = days_to(course.points, level), Fraction(course.points[-1].days)
        if days is None and last < course.ripe_from():
            open_at.append(last)
        else:
            known.append(days)
    soon, late = median_between(known, open_at)
    return (late, None) if soon == late else (None, soon)
