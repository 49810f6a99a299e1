"""Yearly ceilings and intervals over one zone: what the past and the entry add up to on the same ground.

Spot work is the difficulty: two spot treatments of a lawn may or may not have hit the same ground. A sum is *certain*
when it breaks the ceiling even spread evenly over the whole zone (some ground must then have got at least that much),
and *possible* when it breaks it only if the spots fell on each other.
"""

from __future__ import annotations

import calendar
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction
from typing import TYPE_CHECKING

from records.domain.quantities import exceeds

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from records.domain.product import Window

ZERO = Fraction(0)


@dataclass(frozen=True, slots=True)
class Load:
    """What one application put on one zone."""

    serial: str  # "" = the entry itself
    day: date
    value: Fraction | None  # fl oz or lb of the whole application; None when not known
    low: Fraction  # the lowest that reads so
    area: Fraction | None  # sq ft of the whole application
    treated: Fraction | None  # sq ft of it in this zone


@dataclass(frozen=True, slots=True)
class Sum:
    """Loads of one window against one zone, per sq ft."""

    even: Fraction | None  # spread evenly over the zone; None while the zone is not measured
    even_low: Fraction
    stacked: Fraction  # as if every treatment had hit the same ground
    stacked_low: Fraction
    unknown: int  # applications whose amount or area is not known
    serials: tuple[str, ...]

    def is_certainly_over(self, limit: Fraction) -> bool:
        """Tell whether the ceiling is broken even spread over the whole zone."""
        return self.even is not None and exceeds(self.even_low, self.even, limit)

    def is_possibly_over(self, limit: Fraction) -> bool:
        """Tell whether the ceiling is broken where treatments overlap."""
        return exceeds(self.stacked_low, self.stacked, limit)


def add_months(day: date, months: int) -> date:
    """Return the day so many months on, the last of the month where the day does not exist there."""
    index = day.year * 12 + day.month - 1 + months
    year, month = divmod(index, 12)
    return date(year, month + 1, min(day.day, calendar.monthrange(year, month + 1)[1]))


def _season(window: Window, year: int) -> tuple[date, date]:
    first = date.fromisoformat(f"{year}-{window.start}")
    last = date.fromisoformat(f"{year}-{window.end}")
    return (first, last) if first <= last else (first, last.replace(year=year + 1))


def windows(window: Window, day: date, others: Iterable[date]) -> list[tuple[date, date]]:
    """Return the windows, first and last day, in which an application of a day has to be counted.

    Args:
        window: as the label says.
        day: of the application.
        others: days of the other applications; a rolling window may end on one of those after `day`.
    """
    if window.kind == "calendar year":
        return [(date(day.year, 1, 1), date(day.year, 12, 31))]
    if window.kind == "season":
        return [span for year in (day.year - 1, day.year) if (span := _season(window, year))[0] <= day <= span[1]]
    spans = []
    for end in sorted({day, *(other for other in others if other > day)}):
        start = add_months(end, -window.length) if window.kind == "months" else end - timedelta(window.length)
        first = start + timedelta(1)
        if first <= day:
            spans.append((first, end))
    return spans


def total(loads: Sequence[Load], zone_area: Fraction | None) -> Sum:
    """Add up what a zone got, per sq ft.

    Args:
        loads: of one window.
        zone_area: sq ft; None while the zone is not measured.
    """
    even = even_low = stacked = stacked_low = ZERO
    unknown = 0
    for load in loads:
        if load.value is None or not load.area or load.treated is None:
            unknown += 1
            continue
        stacked += load.value / load.area
        stacked_low += load.low / load.area
        even += load.value * load.treated / load.area
        even_low += load.low * load.treated / load.area
    return Sum(
        even=even / zone_area if zone_area else None,
        even_low=even_low / zone_area if zone_area else ZERO,
        stacked=stacked,
        stacked_low=stacked_low,
        unknown=unknown,
        serials=tuple(dict.fromkeys(load.serial for load in loads if load.serial)),
    )


def must_overlap(areas: Sequence[Fraction | None], times: int, zone_area: Fraction | None) -> bool:
    """Tell whether some ground must have been treated more than `times` times.

    By the pigeonhole principle that is so once the treated areas together exceed the zone that many times over.
    """
    if zone_area is None or any(area is None for area in areas):
        return False
    return sum((area for area in areas if area is not None), ZERO) > times * zone_area
