"""Times that cannot be, areas larger than the ground, amounts unlike the firm's own, and what else is worth asking."""

from __future__ import annotations

from datetime import UTC, timedelta
from typing import TYPE_CHECKING

from records.domain.findings import Code, Finding, Severity
from records.domain.quantities import Quantity, exceeds, to_decimal
from records.domain.spans import lapse
from records.domain.unlikely import unlikely
from records.domain.visit import AreaSource, Line, Treatment, Visit, utc
from records.rules.due import Timed, completion, counts_hours
from records.rules.label_checks import lines
from records.rules.rotation import REPEATS, SOURCE, repeat_words, row_of

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import date
    from fractions import Fraction

    from records.rules.context import Context

CLOCK_SLACK = timedelta(minutes=5)  # two clocks seldom agree to the minute
# Acres written as square feet are out by 43,560, thousands of square feet by 1,000 or, taken for acres, by 43.6.
NEXT_TO_NONE = 40
LONGEST_VISIT = timedelta(hours=16)


def check_times(visit: Visit, context: Context) -> Iterator[Finding]:
    """Say where the times contradict each other or the calendar."""
    started, finished, now = visit.started, visit.finished, context.now
    for name, moment in (("started", started), ("finished", finished)):
        if moment is not None and moment.astimezone(UTC) > now + CLOCK_SLACK:
            local = now.astimezone(moment.tzinfo)
            message = f"{moment:%Y-%m-%d %H:%M} lies in the future; it is {local:%Y-%m-%d %H:%M} at the site now"
            yield Finding(
                Code.FUTURE_DATE, Severity.STOP, name, message, f"{local:%Y-%m-%dT%H:%M}", f"{moment:%Y-%m-%dT%H:%M}"
            )
    begun, ended = utc(started), utc(finished)
    if started is None or finished is None or begun is None or ended is None:
        return
    if ended < begun:
        message = (
            f"the end {finished:%Y-%m-%d %H:%M} lies before the start {started:%Y-%m-%d %H:%M}; correct one of them"
        )
        yield Finding(Code.CLOCK_ORDER, Severity.STOP, "finished", message, f"{started:%H:%M}", f"{finished:%H:%M}")
    elif ended - begun > LONGEST_VISIT:
        message = (
            f"the visit would have lasted from {started:%Y-%m-%d %H:%M} to {finished:%Y-%m-%d %H:%M}; "
            "each day is its own record"
        )
        yield Finding(Code.CLOCK_ORDER, Severity.STOP, "finished", message, "16 hours", str(ended - begun))


def check_late(visit: Visit, context: Context) -> Iterator[Finding]:
    """Note that the record was finished after its rules' clock; it is kept as late, never back-dated."""
    late = lateness(visit, context)
    if late is None:
        return
    due, pack, clock = late.due, late.pack, late.clock
    days = late_days(visit, context)
    after = f"{days} day{'s' if days > 1 else ''} after the work" if days else "hours after the work"
    message = (
        f"entered {after}, {lapse(context.made - due)} past the time of {pack.id}: {due:%Y-%m-%d %H:%M} "
        f"({clock.within}); the record shows when it was entered"
    )
    source = f"{pack.id}: {clock.source.cited}"
    yield Finding(Code.LATE, Severity.NOTE, "finished", message, str(clock.within), after, source)


def lateness(visit: Visit, context: Context) -> Timed | None:
    """Return the strictest clock that has run out, with the moment it did; None while none has.

    Args:
        visit: with an end (or at least a start).
        context: the moment of entry and the packs.
    """
    moment = visit.finished or visit.started
    if moment is None:
        return None
    if not late_days(visit, context) and not counts_hours(context.packs):
        return None  # every other clock runs to the end of a day
    return next((timed for timed in completion(context.packs, moment) if context.made > timed.due), None)


def late_days(visit: Visit, context: Context) -> int:
    """Return how many local days passed between the end of the work and the entry."""
    moment = visit.finished or visit.started
    if moment is None:
        return 0
    return max((context.made.astimezone(moment.tzinfo).date() - moment.date()).days, 0)


def check_area(visit: Visit, _context: Context) -> Iterator[Finding]:
    """Ask when more ground is said to be treated than was measured, or next to none of it broadcast."""
    for treatment in visit.treatments:
        measured, area = treatment.zone_area, treatment.area
        if measured is None or area is None:
            continue
        is_over = exceeds(area.base - area.base_half, area.base, measured) if area.base > measured else False
        is_part = treatment.is_spot or bool(treatment.plot)
        is_next_to_none = not is_part and area.base * NEXT_TO_NONE < measured
        if not is_over and not is_next_to_none:
            continue
        names = ", ".join(zone.id for zone in treatment.zones)
        whole = f"{format(to_decimal(measured, 1), 'f')} sq ft"
        if is_next_to_none:
            message = f"only {_both(area)} of {names} ({whole}) treated; look at the unit of the area"
            at, source = f"{treatment.at}.area", "zone measurements"
            yield Finding(Code.UNLIKELY_AMOUNT, Severity.ASK, at, message, whole, str(area), source)
        if not is_over:
            continue
        message = f"{_both(area)} treated, but {names} measures {whole}; correct the area or measure the zone again"
        yield Finding(
            Code.AREA_OVER_ZONE, Severity.ASK, f"{treatment.at}.area", message, whole, str(area), "zone measurements"
        )


def _both(area: Quantity) -> str:
    """Write an area in square feet and acres: a slip between the two is seen at once."""
    acres = to_decimal(area.to("acre"), 4)
    return f"{format(to_decimal(area.base, 2), 'f')} sq ft ({format(acres, 'f') if acres else 'under 0.0001'} acre)"


def check_unlikely(visit: Visit, context: Context) -> Iterator[Finding]:
    """Ask when the rate is far from the firm's own for that product and method."""
    for treatment, line in lines(visit):
        rate = rate_per_area(line, treatment)
        if rate is None:
            continue
        verdict = unlikely(rate, context.recent_rates(line.product.id, treatment.method))
        if verdict is None:
            continue
        times = format(to_decimal(verdict.ratio if verdict.ratio >= 1 else 1 / verdict.ratio, 1), "f")
        more = "more" if verdict.ratio >= 1 else "less"
        message = (
            f"{line.product.name}: {line.amount} here is {times} times {more} per area than usual "
            f"(median of your last {verdict.count}); look at the decimal point, the unit and the area"
        )
        place = f"{line.at}.amount" if line.rate is None else f"{line.at}.rate"
        yield Finding(
            Code.UNLIKELY_AMOUNT,
            Severity.ASK,
            place,
            message,
            "5 times the median",
            f"{times} times",
            "the book's own history",
        )


def rate_per_area(line: Line, treatment: Treatment) -> Fraction | None:
    """Return the amount per sq ft in base units; None where it does not follow."""
    if line.amount is None or line.amount.unit == "oz" or treatment.area is None or not treatment.area.base:
        return None
    if treatment.area_source is AreaSource.DESCRIBED or not line.amount.base:
        return None
    return line.amount.base / treatment.area.base


def check_place(visit: Visit, _context: Context) -> Iterator[Finding]:
    """Stop a visit whose meter, read on arrival, is not the one that is known of the site.

    Lawns have been treated at the wrong address; a state board of pesticides control thought of meter numbers as
    positive identification (https://mofga.org/Maine-BPC-Reports/BPC-Report-Fall-2005, report of a meeting).
    """
    if visit.site is None or not visit.site.meter or not visit.meter:
        return
    # Dials and bills print the same number with other blanks, hyphens and leading zeros.
    read, known = (
        "".join(char for char in text.casefold() if char.isalnum()).lstrip("0")
        for text in (visit.meter, visit.site.meter)
    )
    if read != known:
        message = (
            f"the meter read is {visit.meter}, but {visit.site.id} ({visit.site.address}) has {visit.site.meter}; "
            "this looks like another address: correct the site or the number, or load the site with a changed meter"
        )
        yield Finding(Code.DISAGREE, Severity.STOP, "meter", message, visit.site.meter, visit.meter, "the book")


def check_same_day(_visit: Visit, context: Context) -> Iterator[Finding]:
    """Ask when the site already has a record of that day: a second visit, or the first one entered twice."""
    if context.same_day:
        told = ", ".join(f"{serial} by {name or 'someone'}" for serial, name in context.same_day)
        message = f"this site already has a record of that day: {told}; confirm if this is another visit"
        yield Finding(Code.SAME_DAY, Severity.ASK, "started", message, "", told, "the book")


def check_groups(visit: Visit, context: Context) -> Iterator[Finding]:
    """Note the third treatment in a row of a zone with one mode of action."""
    day = visit.day
    if day is None:
        return
    if len(context.history) < REPEATS - 1:
        return
    told: set[tuple[str, str]] = set()
    past = {zone.id: _groups_of(zone.id, day, context) for t in visit.treatments for zone in t.zones}
    for treatment, line in lines(visit):
        for group in sorted({active.group for active in line.product.actives if active.group}):
            for zone in treatment.zones:
                if (group, zone.id) in told:
                    continue
                run = row_of(group, past[zone.id])
                if run >= REPEATS - 1:
                    told.add((group, zone.id))
                    message = repeat_words(group, zone.id, run + 1)
                    yield Finding(Code.GROUP_REPEAT, Severity.NOTE, line.at, message, "", f"{run + 1} in a row", SOURCE)


def _groups_of(zone: str, day: date, context: Context) -> list[set[str]]:
    """Return the mode-of-action groups that each of a zone's visits up to a day used, the last visit first."""
    groups_of: dict[str, set[str]] = {}
    for use in context.history:
        if use.zone == zone and use.day <= day:
            product = context.product(use.product)
            if product is not None and product.is_pesticide:
                groups_of.setdefault(use.serial, set()).update([active.group for active in product.actives])
    return list(reversed(groups_of.values()))
