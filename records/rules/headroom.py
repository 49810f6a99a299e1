"""How much of a product a label still allows on a zone, and from which day on: told before anything is mixed.

The sums are those of the checks, with every past treatment taken to have hit the same ground: what is told as left is
there wherever the spots were.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from fractions import Fraction
from typing import TYPE_CHECKING

from records.domain.ceilings import Load, Sum, are_apart, windows
from records.domain.quantities import Per, decimal_text
from records.rules.allowances import allowance_on
from records.rules.ground import is_same, past_load, visits_of, window_words
from records.rules.label_checks import use_on
from records.rules.label_match import limits_of, source_of

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from datetime import date

    from records.domain.product import Limits, Product
    from records.domain.quantities import Rate
    from records.domain.visit import Line, Treatment
    from records.rules.ground import Ground

ZERO = Fraction(0)


@dataclass(frozen=True, slots=True)
class Room:
    """What a label still allows of a product on a zone on a day."""

    zone: str
    product: str  # id
    name: str
    left: Fraction | None  # base units of product per sq ft; None: no ceiling, or the past is not known in full
    left_words: str  # "1.1 of 3 fl oz/1000 sq ft, calendar year 2026", the ceiling as printed; "" without one
    unknown: int  # past applications without a known area or amount
    times_left: int | None  # applications; None: no such limit
    lawful_from: date | None  # by everything that stands against it; None: nothing does, or no day is found
    before: tuple[str, ...]  # records counted
    source: str


def room_of(ground: Ground, treatment: Treatment, line: Line, find: Callable[[str], Product | None]) -> Room | None:
    """Return what is left for a product on a zone before the entry itself; None where no label limits it.

    Args:
        ground: the zone with its past.
        treatment: of the entry.
        line: of the entry.
        find: returns a product of the book by its id.
    """
    product = line.product
    if product.label is None:
        return None
    limits = limits_of(product.label, use_on(line, treatment, ground.zone))
    if not (limits.per_year or limits.active_per_year or limits.applications or limits.interval_days):
        return None
    past = [use for use in ground.past if is_same(product, use.product, use.registration)]
    counts = []
    if limits.applications is not None:
        for first, last in windows(limits.window, ground.day, [use.day for use in past]):
            visits = visits_of([use for use in past if first <= use.day <= last], [treatment.plot])
            counts.append(max(0, limits.applications.value - len(visits)))
    near = (
        []
        if limits.interval_days is None
        else [use.day for use in past if use.day <= ground.day and not are_apart(use.plot, treatment.plot)]
    )
    ceilings = [*_of_product(ground, line, limits), *_of_actives(ground, product, limits, line)]
    known = [one for one in ceilings if one[0] is not None]
    left, words = min(known, key=lambda one: one[0] or ZERO) if known else (None, "")
    times = None if limits.applications is None else min(counts, default=limits.applications.value)
    day = max(near) + timedelta(limits.interval_days.value) if near and limits.interval_days else None
    if times == 0 or left == 0 or (day is not None and day > ground.day):
        day = allowance_on(ground, product, find, treatment.method).first_day
    return Room(
        zone=ground.zone.id,
        product=product.id,
        name=product.name,
        left=left,
        left_words=words,
        unknown=sum(use.amount is None or use.area is None for use in past),
        times_left=times,
        lawful_from=day,
        before=tuple(dict.fromkeys(use.serial for use in past)),
        source=source_of(product),
    )


def _of_product(ground: Ground, line: Line, limits: Limits) -> Iterator[tuple[Fraction | None, str]]:
    """Yield what the yearly amount leaves, in the tightest window, on the basis that leaves most."""
    if limits.per_year is None:
        return
    past = [use for use in ground.past if is_same(line.product, use.product, use.registration)]
    found = []
    for first, last in windows(limits.window, ground.day, [use.day for use in past]):
        total = Sum(tuple(past_load(use) for use in past if first <= use.day <= last), ground.area)
        own = None if line.rate is None else line.rate.unit_text
        best = max(limits.per_year.value, key=lambda base: (base.base, base.unit_text == own))
        left = max(best.base - total.stacked, ZERO)
        found.append((left, f"{_of(left, best)}, {_span(limits, first)}"))
    yield from sorted(found)[:1]


def _of_actives(ground: Ground, product: Product, limits: Limits, line: Line) -> Iterator[tuple[Fraction | None, str]]:
    """Yield what the yearly amount of each active leaves, all products together, as product."""
    for name, limit in limits.active_per_year:
        active = next((one for one in product.actives if one.name == name or not name), None)
        per_base = None if active is None else active.content.pounds_per_base
        if active is None or not per_base:
            continue
        past = ground.past_of(active.name)
        found = []
        for first, last in windows(limits.window, ground.day, [use.day for use, _, _ in past]):
            loads = [
                Load(use.serial, use.day, pounds, Fraction, use.area, ZERO, plot=use.plot)
                for use, _, pounds in past
                if first <= use.day <= last
            ]
            left = max(limit.value.base - Sum(tuple(loads), ground.area).stacked, ZERO)
            told = f"all {active.name}: {_of(left, limit.value)}, {_span(limits, first)}"
            found.append((left / per_base, _as_product(left / per_base, line) + told))
        yield from sorted(found)[:1]


def _span(limits: Limits, first: date) -> str:
    return window_words(limits.window, first).removeprefix("the ")


def _of(left: Fraction, limit: Rate) -> str:
    """Write what is left of a ceiling on the basis on which the label prints it, rounded down.

    Args:
        left: base units per sq ft.
        limit: the ceiling as printed.
    """
    return f"{_down(left / (limit.base / limit.value))} of {limit}" if limit.value else f"nothing of {limit}"


def _as_product(left: Fraction, line: Line) -> str:
    """Write what is left of an active as product, the way the entry's rate is written; "" where that is per spray."""
    rate = line.rate
    if rate is None or rate.per is not Per.AREA or not rate.value:
        return ""
    return f"{_down(left / (rate.base / rate.value))} {rate.unit_text}; "


def _down(value: Fraction) -> str:
    """Write a number with three decimals, rounded down: what is told as left has to be there."""
    return decimal_text(Fraction(int(value * 1000), 1000), 3)
