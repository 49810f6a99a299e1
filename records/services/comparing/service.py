"""Compares products on a target: control over days, days to 50 and 80 %, final control, cost, and what can be told."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import combinations
from typing import TYPE_CHECKING

from records.domain.efficacy import Point, control_days
from records.errors import NotFoundError, UsageError
from records.services.comparing.cautions import cautions_of
from records.services.comparing.gather import (
    Costs,
    Gathered,
    before_repeats,
    in_groups,
    middle,
    site_results,
    window_of,
)
from records.services.comparing.model import LATEST, LEVELS, Comparison, CurvePoint, Group, Summary, Verdict
from records.services.comparing.sentences import FINAL, days_words, sentence
from records.services.comparing.statistics import (
    differ,
    differ_between,
    held_together,
    interval_between,
    lower_share,
    median,
    median_between,
    median_interval,
    quartiles,
)
from records.services.directory import Directory
from records.services.follow_up.ratings import ratings
from records.services.occasions import site_of

if TYPE_CHECKING:
    from collections.abc import Container, Iterable, Sequence
    from datetime import date

    from records.services.comparing.model import SiteResult
    from records.services.comparing.statistics import Test
    from records.services.follow_up.ratings import Rated
    from records.services.ports import UnitOfWork

_ZERO = Fraction(0)
MOST_PAIRED = 6  # groups that are compared two by two; of more, each with the first


@dataclass(frozen=True, slots=True)
class Wish:
    """What is compared."""

    target: str
    names: tuple[str, ...] = ()  # products, or mixes joined by +; none: all that were rated
    since: date | None = None  # first day of treatment
    until: date | None = None
    site: str | None = None
    method: str | None = None
    turf: str | None = None
    until_days: int | None = None  # cuts final looks off; None: the last look of the mode of action
    with_adjuvants: bool = False
    with_trials: bool = True


def compare(work: UnitOfWork, wish: Wish) -> Comparison:
    """Return what the ratings say of products on a target.

    Raises:
        NotFoundError: nothing was rated, a product that is named was not, or there is no such site.
        UsageError: the target fits several.
    """
    site = None if wish.site is None else site_of(Directory(work.catalogue), wish.site)[0].id
    every = [one for one in ratings(work, site=site) if one.treated is not None]
    target = _target(every, wish.target)
    chosen = [one for one in every if one.rating.target.casefold() == target and _fits(one, wish)]
    timely = [one for one in chosen if window_of(one.rating.days) is not None]
    untimely = len(chosen) - len(timely)
    chosen, dropped = before_repeats(work, timely, target)
    gathered = _named(in_groups(chosen, with_adjuvants=wish.with_adjuvants), wish)
    if not gathered:
        raise NotFoundError(
            f"no treatment of {target} that fits has a rating", "Rate it first: swathbook rate, or widen the search"
        )
    costs = Costs(work)
    cut = {(one.rating.record, one.rating.treatment) for one in dropped}
    groups = [_group(one, costs, wish.until_days, cut) for one in gathered]
    shared = _shared_day(groups, wish.until_days)
    groups = sorted((_with_area(one, shared) for one in groups), key=_order)
    shown = next(one.rating.target for one in every if one.rating.target.casefold() == target)
    return Comparison(
        target=shown,
        since=wish.since,
        until=wish.until,
        until_days=wish.until_days,
        shared_day=shared,
        groups=tuple(groups),
        verdicts=tuple(_verdicts(groups, wish.until_days)),
        cautions=tuple(cautions_of(groups, (len(dropped), untimely), wish.until_days)),
    )


def _target(every: Sequence[Rated], wanted: str) -> str:
    """Return the target that is meant, in small letters."""
    known = dict.fromkeys(one.rating.target.casefold() for one in every)
    text = " ".join(wanted.split()).casefold()
    fits = [text] if text in known else [name for name in known if text and text in name]
    if len(fits) == 1:
        return fits[0]
    if fits:
        raise UsageError(f"{wanted[:40]!r} fits {', '.join(fits[:6])}", "Write one of them")
    told = f"Rated so far: {', '.join(list(known)[:8])}" if known else "Rate a treatment first: swathbook rate"
    raise NotFoundError(f"nothing against {wanted[:40]!r} was rated", told)


def _fits(rated: Rated, wish: Wish) -> bool:
    treated = rated.treated
    if treated is None:
        return False
    return (
        (wish.since is None or treated.day >= wish.since)
        and (wish.until is None or treated.day <= wish.until)
        and (wish.method is None or treated.method.casefold() == wish.method.casefold())
        and (wish.turf is None or any(wish.turf.casefold() in name.casefold() for name in treated.turf))
        and (wish.with_trials or not treated.plot)
    )


def _named(gathered: list[Gathered], wish: Wish) -> list[Gathered]:
    """Return the groups that are named, in that order; all of them where none is."""
    if not wish.names:
        return gathered
    found: list[Gathered] = []
    for name in wish.names:
        parts = {" ".join(part.split()).casefold() for part in name.split("+")} - {""}
        fits = [one for one in gathered if parts == {key.casefold() for key in one.key} or parts == _words(one)]
        fits = fits or [one for one in gathered if _is_part_of(parts, one)]
        if not fits:
            told = ", ".join("+".join(one.key) for one in gathered[:6]) or "nothing"
            raise NotFoundError(f"{name[:60]!r} has no rating that fits", f"Rated against it: {told}")
        found += [one for one in fits if one not in found]
    return found


def _is_part_of(parts: set[str], group: Gathered) -> bool:
    """Tell whether so many parts as the group has products each stand in an id or a name of them."""
    texts = [*(key.casefold() for key in group.key), *_words(group)]
    return len(parts) == len(group.key) and all(any(part in text for text in texts) for part in parts)


def _words(group: Gathered) -> set[str]:
    return {part.casefold() for part in group.name.split(" + ")}


def _summary(values: Iterable[Fraction | None]) -> Summary:
    every = tuple(values)
    known = [value for value in every if value is not None]
    return Summary(
        values=every,
        median=median(every),
        low=min(known, default=None),
        high=max(known, default=None),
        quarters=quartiles(known) if len(known) == len(every) >= 4 else None,
        interval=median_interval(every),
    )


def _days_summary(sites: Sequence[SiteResult], place: int) -> Summary:
    """Sum up the days to one of LEVELS, told only as far as what is open does not change it."""
    known = tuple(one.days_to[place] for one in sites if one.open_at[place] is None)
    open_at = tuple(bound for one in sites if (bound := one.open_at[place]) is not None)
    soon, late = median_between(known, open_at)
    return replace(
        _summary(known),
        median=late if soon == late else None,
        quarters=None if open_at else _summary(known).quarters,
        interval=interval_between(known, open_at),
        open_at=open_at,
        is_open=soon != late,
        between=None if soon is None or late is None or soon == late else (soon, late),
    )


def _group(gathered: Gathered, costs: Costs, until_days: int | None, cut: Container[tuple[str, int]]) -> Group:
    sites = site_results(gathered, costs, until_days, cut)
    looks: dict[int, list[Fraction]] = defaultdict(list)
    for one in sites:
        for window, control in one.looks:
            looks[window].append(control)
    timed = [one for one in sites if one.looks and one.has_days]
    courses = [course for one in sites for course in one.courses]
    finals = [one.final_day for one in sites if one.final_day is not None]
    return Group(
        key=gathered.key,
        name=gathered.name,
        sites=tuple(sites),
        curve=tuple(
            CurvePoint(days, len(found), middle(found), min(found), max(found)) for days, found in sorted(looks.items())
        ),
        days_to=tuple(_days_summary(timed, place) for place in range(len(LEVELS))),
        final=_summary(one.final for one in sites if one.final is not None),
        final_days=median(finals),
        injury=_summary(one.injury for one in sites if one.injury is not None),
        cost=_summary(one.cost for one in sites if one.cost is not None),
        unpriced=tuple(sorted({course.unpriced for course in courses if course.unpriced})),
        control_days=None,
        raters=tuple(sorted({rater for course in courses for rater in course.raters})),
        years=tuple(sorted({course.day.year for course in courses})),
        turf=tuple(sorted({name for one in gathered.treated for name in one.turf})),
        methods=tuple(sorted({one.method for one in gathered.treated if one.method})),
    )


def _shared_day(groups: Sequence[Group], until_days: int | None) -> int | None:
    """Return the last day up to which every group was looked at: areas under curves compare only until then.

    What works before weeds come up has no such area: how much it held down before the first look is not known.
    """
    most = LATEST if until_days is None else until_days
    last = [
        max((one.days for one in group.curve if one.days <= most), default=0) for group in groups if not group.is_early
    ]
    return min(last, default=0) or None


def _with_area(group: Group, shared: int | None) -> Group:
    if shared is None or group.is_early or not group.curve:
        return group
    points = [Point(one.days, one.median) for one in group.curve]
    if points[-1].days > shared and not any(one.days == shared for one in points):
        # The curve goes straight between two looks
        after = next(one for one in points if one.days > shared)
        before = max((one for one in points if one.days < shared), key=lambda one: one.days, default=Point(0, _ZERO))
        part = (after.control - before.control) * (shared - before.days) / (after.days - before.days)
        points = sorted([*points, Point(shared, before.control + part)], key=lambda one: one.days)
    return replace(group, control_days=control_days(points, shared))


def _order(group: Group) -> tuple[bool, Fraction, Fraction, str]:
    """Fastest to 80 % first; of those that never were, the best in the end."""
    last, final = group.days_to[-1], group.final.median
    days = last.between[0] if last.between is not None else last.median
    return days is None, days or _ZERO, -(final if final is not None else -_ZERO), group.name


def _verdicts(groups: Sequence[Group], until_days: int | None = None) -> list[Verdict]:
    """Return what can be told of two groups each, in speed and in the end, held together as several tests."""
    pairs = list(combinations(groups, 2))
    if len(groups) > MOST_PAIRED:
        pairs = [(groups[0], other) for other in groups[1:]]
    respects: list[tuple[str, tuple[Group, Group], tuple[Summary, Summary]]] = []
    for first, second in pairs:
        if not first.is_early and not second.is_early:
            respects.append((days_words(LEVELS[-1]), (first, second), (first.days_to[-1], second.days_to[-1])))
        respects.append((FINAL, (first, second), (first.final, second.final)))
    tests = [
        differ_between((one.values, one.open_at), (other.values, other.open_at))
        if one.open_at or other.open_at
        else differ(one.values, other.values)
        for _, _, (one, other) in respects
    ]
    # What so few sites could never show is no chance taken: it raises no p (R. E. Tarone 1990, Biometrics 46, 515-522)
    known = [test for test in tests if test is not None and test.could_tell]
    raised = iter(held_together(known))
    held: list[Test | None] = [next(raised) if test is not None and test.could_tell else test for test in tests]
    return [
        _verdict(what, pair, values, test, len(known), until_days)
        for (what, pair, values), test in zip(respects, held, strict=True)
    ]


def _verdict(
    what: str,
    pair: tuple[Group, Group],
    values: tuple[Summary, Summary],
    test: Test | None,
    tests: int,
    until_days: int | None,
) -> Verdict:
    names, (first, second) = (pair[0].name, pair[1].name), values
    if _is_better(second, first, is_days=what != FINAL):
        names, first, second = (names[1], names[0]), second, first
    difference = None
    if first.median is not None and second.median is not None:
        difference = second.median - first.median if what != FINAL else first.median - second.median
        # Medians may point the other way than the ranks that were tested: then no number stands for the difference
        difference = difference if difference >= 0 else None
    sizes = (first.count, second.count)
    told = sentence(what, names, sizes, difference, test, tests, until_days)
    return Verdict(what, *names, sizes, difference, test, told, len(first.open_at) + len(second.open_at))


def _is_better(one: Summary, other: Summary, *, is_days: bool) -> bool:
    """Tell whether one is better in most pairs of sites: fewer days, or more control."""
    if not one.count or not other.count:
        return bool(one.count)
    # What is open counts as late: where a difference is told, it lies on that side whatever becomes of it
    share = lower_share(*([*each.values, *[None] * len(each.open_at)] for each in (one, other)))
    return share > Fraction(1, 2) if is_days else share < Fraction(1, 2)
