"""What a reader has to know before believing a comparison."""

from __future__ import annotations

from collections import Counter
from fractions import Fraction
from math import ceil
from typing import TYPE_CHECKING

from records.services.comparing.model import LATEST, LEVELS
from records.services.comparing.sentences import counted, days_words, whole

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from records.services.comparing.model import Group

FEW = 6  # sites below which no interval has 95 %
APART = 7  # days between last looks that are no longer the same age
SPREAD = Fraction(5, 4)  # highest rate over lowest that is still one rate
_WARM = range(6, 9)  # June to August


def cautions_of(groups: Sequence[Group], left_out: tuple[int, int], until_days: int | None) -> Iterator[str]:
    """Yield cautions, the gravest first.

    Args:
        groups: that are compared.
        left_out: ratings after a repeat, and ratings too early or too late.
        until_days: within which final looks are; None: the last look of the mode of action.
    """
    repeated, untimely = left_out
    if until_days is not None:
        yield from _cut(groups, until_days)
    yield from _not_judged(groups, until_days)
    yield from _days(groups)
    yield from _design(groups)
    yield from _people(groups)
    yield from _surroundings(groups)
    if repeated:
        yield f"{counted(repeated, 'rating')} left out: the same ground had been treated against it again by then"
    if untimely:
        yield f"{counted(untimely, 'rating')} left out: on the day of the treatment, or over {LATEST} days after it"
    yield from _looks(groups, until_days)
    few = [f"{one.name} ({one.final.count})" for one in groups if 0 < one.final.count < FEW]
    if few:
        yield f"fewer than {FEW} sites give no interval of 95 %: {', '.join(few)}; the widest there is, is shown"


def _cut(groups: Sequence[Group], until_days: int) -> Iterator[str]:
    """Tell what a cut by days leaves out of the final control."""
    for one in groups:
        beyond = [
            site.site
            for site in one.sites
            for course in site.courses
            for point in course.points
            if point.days > until_days
        ]
        if beyond:
            look = " and ".join(map(str, one.judged_from))
            yield (
                f"{one.name}: a cut at {counted(until_days, 'day')} leaves {counted(len(beyond), 'later look')} at "
                f"{counted(len(set(beyond)), 'site')} out of the final control; its last look is about day {look}"
            )


def _not_judged(groups: Sequence[Group], until_days: int | None) -> Iterator[str]:
    """Tell at which sites there is no final control."""
    for one in groups:
        lacking = one.not_judged
        if not lacking:
            continue
        ripe = " or ".join(
            map(str, sorted({ceil(course.ripe_from(until_days)) for site in lacking for course in site.courses}))
        )
        again, of = len(one.treated_again), f"{len(lacking)} of {counted(len(one.sites), 'site')}"
        if again == len(lacking):
            told = f"{of} {_is(len(lacking))} not judged, treated again before a look from day {ripe} on"
        else:
            told = f"{of} {_is(len(lacking))} not judged yet, with no rating from day {ripe} on"
            told += f" ({again} of them treated again)" if again else ""
        yield f"{one.name}: {told}; no part of its final control" + (
            ", which may look too good: what is treated again may be what failed" if again else ""
        )


def _days(groups: Sequence[Group]) -> Iterator[str]:
    """Tell where days to a control rest on little, or are not told."""
    for one in groups:
        still = [
            f"{days_words(level)} (open at {len(days.open_at)} of {counted(days.count, 'site')})"
            for level, days in zip(LEVELS, one.days_to, strict=True)
            if days.is_open and days.between is None
        ]
        if still:
            yield f"{one.name}: the median cannot be told yet of {' and '.join(still)}"
    late = [
        f"{one.name} at {number} of {counted(len(one.sites), 'site')}"
        for one in groups
        if (number := sum(site.has_days and any(course.is_late for course in site.courses) for site in one.sites))
    ]
    if late:
        yield (
            f"first looked at after the usual first look: {'; '.join(late)}; days to a control there are read off "
            "that long wait, and may have been fewer"
        )
    early = [one.name for one in groups if one.is_early]
    if early:
        yield (
            f"pre-emergence: {', '.join(early)}; no days to a control and no cost of a day of full control are told, "
            "since nothing is known before the first look"
        )


def _is(number: int) -> str:
    return "is" if number == 1 else "are"


def _design(groups: Sequence[Group]) -> Iterator[str]:
    """Tell that products were not given to sites by lot."""
    if len(groups) > 1:
        in_trials = all(course.trial for one in groups for site in one.sites for course in site.courses)
        if not in_trials:
            yield (
                "sites were not given their product by lot: what differs may be the sites; a trial tells "
                "(swathbook trial new)"
            )
        times = Counter(site.site for one in groups for site in one.sites)
        both = sum(count > 1 for count in times.values())
        if both:
            yield f"{counted(both, 'site')} had more than one of them: there they are not independent of each other"


def _people(groups: Sequence[Group]) -> Iterator[str]:
    raters = sorted({rater or "nobody named" for one in groups for rater in one.raters})
    if len(raters) > 1:
        yield f"{len(raters)} raters ({', '.join(raters[:4])}): ratings by eye compare best by one person"


def _surroundings(groups: Sequence[Group]) -> Iterator[str]:
    years = sorted({year for one in groups for year in one.years})
    if len(years) > 1:
        yield f"{len(years)} seasons together ({years[0]} to {years[-1]}): weather differs between them"
    if len({one.turf for one in groups}) > 1:
        told = "; ".join(f"{one.name} on {', '.join(one.turf[:3]) or 'turf not named'}" for one in groups[:4])
        yield f"different turf: {told}"
    if len({one.methods for one in groups}) > 1 or any(len(one.methods) > 1 for one in groups):
        told = "; ".join(f"{one.name} by {', '.join(one.methods) or 'method not named'}" for one in groups[:4])
        yield f"different methods: {told}"
    yield from _rates(groups)
    warm = [_warm(one) for one in groups]
    if len(set(warm)) > 1 and None not in warm:
        told = "; ".join(
            f"{one.name} {'mostly June to August' if is_warm else 'mostly in the cool of the year'}"
            for one, is_warm in zip(groups[:4], warm, strict=False)
        )
        yield f"different times of the year: {told}"


def _rates(groups: Sequence[Group]) -> Iterator[str]:
    """Tell where a product went out at rates too far from each other to be one thing."""
    for one in groups:
        rates: dict[str, list[Fraction]] = {}
        for name, rate in (rate for site in one.sites for course in site.courses for rate in course.rates):
            rates.setdefault(name, []).append(rate)
        for name, found in rates.items():
            if min(found) and max(found) > SPREAD * min(found):
                times = f"{float(max(found) / min(found)):.1f}"
                yield f"{name} went out at unlike rates: the highest is {times} times the lowest"


def _warm(group: Group) -> bool | None:
    months = [course.day.month for site in group.sites for course in site.courses]
    return sum(month in _WARM for month in months) * 2 > len(months) if months else None


def _looks(groups: Sequence[Group], until_days: int | None) -> Iterator[str]:
    ages = [(one.name, one.final_days) for one in groups if one.final_days is not None]
    days = [age for _, age in ages]
    if days and max(days) - min(days) > APART:
        told = "; ".join(f"{name} {whole(age)} days" for name, age in ages[:4])
        within = "" if until_days is None else f" (within {counted(until_days, 'day')})"
        yield f"final looks{within} are not of one age: {told}"
    for one in groups:
        if one.unpriced:
            known = f"cost known at {one.cost.count} of {counted(len(one.sites), 'site')}"
            yield f"{one.name}: {known} ({'; '.join(one.unpriced[:3])})"
