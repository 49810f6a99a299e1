"""Amounts, counts and intervals of a product per zone, counting the sealed history and the entry itself."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

from records.domain.ceilings import Sum, are_apart, must_overlap, windows
from records.domain.findings import Code, Finding
from records.domain.product import Force
from records.rules.active_checks import active_ceilings
from records.rules.ground import (
    base_of,
    breach,
    grounds,
    is_far_below,
    is_same,
    load_of,
    ordinal,
    over_sum,
    past_load,
    severity_of,
    unknown_sum,
    visits_of,
    window_words,
    within_reading,
)
from records.rules.label_checks import highs_on, use_on
from records.rules.label_match import limits_of, source_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from records.domain.history import PastUse
    from records.domain.product import LimitLine, Limits, Window
    from records.domain.quantities import Rate
    from records.domain.visit import Line, Treatment, Visit
    from records.rules.context import Context
    from records.rules.ground import Ground

_Own = list[tuple["Treatment", "Line"]]


def check_ceilings(visit: Visit, context: Context) -> Iterator[Finding]:
    """Say where a ceiling or an interval of a label is broken, surely or possibly."""
    day = visit.day
    if day is None:
        return
    for ground in grounds(visit, context, day):
        judged: list[tuple[str, Limits]] = []
        told: set[tuple[Code, str, str]] = set()
        for treatment, line in ground.entry:
            if line.product.label is None:
                continue
            # The first line of a product speaks for all of them, unless another falls under another use.
            limits = limits_of(line.product.label, use_on(line, treatment, ground.zone))
            if (line.product.id, limits) in judged:
                continue
            judged.append((line.product.id, limits))
            for finding in _line(ground, treatment, line, limits):
                if (finding.code, line.product.id, finding.limit) not in told:
                    told.add((finding.code, line.product.id, finding.limit))
                    yield finding
        yield from active_ceilings(ground, context)


def _line(ground: Ground, treatment: Treatment, line: Line, limits: Limits) -> Iterator[Finding]:
    product = line.product
    past = [use for use in ground.past if is_same(product, use.product, use.registration)]
    own = [(t, one) for t, one in ground.entry if is_same(product, one.product.id, one.product.registration)]
    yield from _on_one_day(ground, own, past)
    if limits.interval_days is not None:
        yield from _too_soon(ground, treatment, line, past, limits.interval_days, own)
    if limits.applications is not None:
        yield from _too_often(ground, line, own, past, limits.applications, limits.window)
    if limits.per_year is not None:
        yield from _over_year(ground, line, own, past, limits.per_year, limits.window)


def _on_one_day(ground: Ground, own: _Own, past: Sequence[PastUse]) -> Iterator[Finding]:
    """Say where several passes of one day, each within the label, come to more than one application may be."""
    today = [use for use in past if use.day == ground.day]
    if len(today) + len(own) < 2:
        return
    bases = list(dict.fromkeys(high for t, one in own for high in highs_on(one, t, ground.zone)))
    if not bases:
        return
    result = Sum((*map(past_load, today), *(load_of(one, t, ground) for t, one in own)), ground.area)
    broken = breach([(ground.day, result, result)], bases)
    if broken is not None:
        last = own[-1][1]
        yield over_sum(Code.OVER_RATE, ground, last, broken, bases, "one day", Force.MUST)


def _too_soon(
    ground: Ground, treatment: Treatment, line: Line, past: Sequence[PastUse], limit: LimitLine[int], own: _Own
) -> Iterator[Finding]:
    # The first treatment speaks for all, but for plots: of those each has ground of its own.
    mine = [t for t, _ in own] if treatment.plot else [treatment]
    close = [use for use in past if abs((use.day - ground.day).days) < limit.value]
    near = [use for use in close if not all(are_apart(one.plot, use.plot) for one in mine)]
    if not near:
        return
    closest = min(near, key=lambda use: abs((use.day - ground.day).days))
    days = abs((closest.day - ground.day).days)
    sure = any(
        must_overlap((one.treated(ground.zone), use.treated), 1, ground.area)
        for use in near
        for one in mine
        if not are_apart(one.plot, use.plot)
    )
    before = closest.day <= ground.day
    earliest = max(use.day for use in near) + timedelta(limit.value)
    span = f"{limit.value} day{'' if limit.value == 1 else 's'}"
    asks = f"the label asks {span}" + (f", so {earliest} at the earliest" if before else "")
    when = f"{days} day{'' if days == 1 else 's'} {'after' if before else 'before'} {closest.serial} of {closest.day}"
    tail = "" if sure else "; the spots may have been others: confirm if they were"
    yield Finding(
        Code.TOO_SOON,
        severity_of(limit.force, sure=sure),
        line.at,
        f"{line.product.name} on {ground.zone.id} {when}; {asks}{tail}",
        limit=span,
        found=f"{days} day{'' if days == 1 else 's'}",
        source=source_of(line.product),
    )


def _too_often(
    ground: Ground, line: Line, own: _Own, past: Sequence[PastUse], limit: LimitLine[int], window: Window
) -> Iterator[Finding]:
    if len({use.serial for use in past}) < limit.value:
        return  # not too often even if all of it fell into one window
    found: list[tuple[bool, Finding]] = []
    for first, last in windows(window, ground.day, [use.day for use in past]):
        within = [use for use in past if first <= use.day <= last]
        visits = visits_of(within, [t.plot for t, _ in own])
        count = len(visits) + 1
        if count <= limit.value:
            continue
        areas = [use.treated for use in within] + [t.treated(ground.zone) for t, _ in own]
        sure = must_overlap(areas, limit.value, ground.area)
        tail = "" if sure else "; the spots may have been others: confirm if they were"
        span = window_words(window, first)
        message = (
            f"{line.product.name} on {ground.zone.id} for the {ordinal(count)} time in {span}; "
            f"the label allows {limit.value} (before: {', '.join(visits)}){tail}"
        )
        severity, source = severity_of(limit.force, sure=sure), source_of(line.product)
        finding = Finding(Code.OVER_COUNT, severity, line.at, message, f"{limit.value} in {span}", str(count), source)
        found.append((sure, finding))
    yield from [finding for _, finding in sorted(found, key=lambda one: not one[0])][:1]


def _over_year(
    ground: Ground, line: Line, own: _Own, past: Sequence[PastUse], limit: LimitLine[tuple[Rate, ...]], window: Window
) -> Iterator[Finding]:
    put = [(base_of(use.amount), use.area) for use in past] + [(base_of(one.amount), base_of(t.area)) for t, one in own]
    if is_far_below(ground, put, limit.value):
        return
    mine = tuple(load_of(one, t, ground) for t, one in own)
    sums = []
    for first, last in windows(window, ground.day, [use.day for use in past]):
        result = Sum((*(past_load(use) for use in past if first <= use.day <= last), *mine), ground.area)
        sums.append((first, result, result))
    broken = breach(sums, limit.value)
    if broken is None:
        yield from within_reading(ground, line, sums, limit.value, window)
        yield from unknown_sum(ground, line, f"amount per year of {line.product.name}", sums)
        return
    span = window_words(window, broken.first)
    yield over_sum(Code.OVER_YEAR, ground, line, broken, limit.value, span, limit.force)
